"""Published worked examples: NIST/SEMATECH e-Handbook 6.3.2.2 to 6.3.2.4, Montgomery's piston rings."""

import csv
from pathlib import Path

import numpy as np
import pytest

from printlore.core.control.charts import cusum, ewma, individuals, mean_and_range
from printlore.errors import ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"


def table(name):
    with (DATA / name).open() as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


RESULTS = {(row["example"], row["quantity"]): row["value"] for row in table("control_chart_published_results.csv")}


def published(example, quantity):
    return float(RESULTS[example, quantity])


def test_individuals_chart_is_the_handbooks():
    rows = table("nist_6_3_2_2_individuals.csv")
    chart, ranges = individuals([float(row["flow_rate"]) for row in rows])
    name = "NIST 6.3.2.2 individuals"
    assert chart.centre == pytest.approx(published(name, "mean"), abs=0.005)
    assert ranges.mean() == pytest.approx(published(name, "mean_moving_range"), abs=5e-5)
    assert ranges == pytest.approx([float(row["moving_range"]) for row in rows[1:]])
    # The handbook rounds d2 to 1.128; that moves its limits by 0.0017.
    assert chart.upper == pytest.approx(published(name, "UCL"), abs=0.002)
    assert chart.lower == pytest.approx(published(name, "LCL"), abs=0.002)
    assert not chart.outside.any()


def test_ewma_chart_is_the_handbooks():
    rows = table("nist_6_3_2_4_ewma.csv")
    name = "NIST 6.3.2.4 EWMA"
    chart = ewma(
        [float(row["x"]) for row in rows],
        aim=published(name, "target_EWMA0"),
        sigma=published(name, "s"),
        weight=published(name, "lambda"),
        width=published(name, "k"),
    )
    assert chart.values == pytest.approx([float(row["ewma_published_2dp"]) for row in rows], abs=0.00501)
    assert chart.upper == pytest.approx(published(name, "UCL"), abs=1e-4)
    assert chart.lower == pytest.approx(published(name, "LCL"), abs=1.1e-4)
    assert not chart.outside.any()


def test_cusum_chart_is_the_handbooks():
    rows = table("nist_6_3_2_3_cusum.csv")
    name = "NIST 6.3.2.3 CUSUM"
    chart = cusum(
        [float(row["subgroup_mean"]) for row in rows],
        aim=published(name, "target"),
        slack=published(name, "k"),
        limit=published(name, "h"),
    )
    for column, values in (("S_hi", chart.high), ("S_lo", chart.low), ("cusum", chart.total)):
        assert values == pytest.approx([float(row[f"{column}_published"]) for row in rows], abs=0.00501), column
    assert chart.signal_high.tolist() == [row["signal_hi"] == "1" for row in rows]
    assert int(np.argmax(chart.signal_high)) + 1 == published(name, "first_high_signal_group")
    assert not chart.signal_low.any()


def test_mean_and_range_charts_are_montgomerys():
    samples = np.array([[float(row[f"x{i}"]) for i in range(1, 6)] for row in table("xbar_r_published.csv")])
    means, ranges = mean_and_range(samples)
    name = "Montgomery piston rings"
    assert means.centre == pytest.approx(published(name, "grand_mean"), abs=5e-6)
    assert ranges.centre == pytest.approx(published(name, "mean_range"), abs=5e-6)
    assert means.upper == pytest.approx(published(name, "xbar_UCL"), abs=5.1e-5)
    assert means.lower == pytest.approx(published(name, "xbar_LCL"), abs=5.1e-6)
    assert ranges.upper == pytest.approx(published(name, "R_UCL"), abs=1.1e-5)
    assert ranges.lower == published(name, "R_LCL")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: individuals([1.0]), "at least 2 readings"),
        (lambda: individuals([1.0, float("nan")]), "Reading 2 of the chart is nan"),
        (lambda: ewma([1.0], aim=0, sigma=0), "sigma 0 cannot be"),
        (lambda: ewma([1.0], aim=0, sigma=1, weight=1.5), "above 0 and at most 1"),
        (lambda: cusum([1.0], aim=0, slack=-1, limit=4), "slack -1 and limit 4"),
        (lambda: mean_and_range(np.zeros((1, 5))), "at least two samples"),
    ],
)
def test_charts_refuse_what_cannot_be_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()
