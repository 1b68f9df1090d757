"""Measuring: how far readings are off in simulated scans with real faults, and how long a 12-megapixel scan takes.

    python -m bench measuring [--rooms 24]

Beside each time stands the plain use of the libraries that a printer who programs would take: boxes by hand, means,
and linear interpolation of the wedge for a strip; feature matching, warping and a colour difference for two prints.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"
SIZE = (4000, 3000)


def _room(seed: int) -> Any:
    from printroom.room import Room

    room = Room(seed)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    return room, room.add_frame("film")


def accuracy(rooms: int) -> list[str]:
    """Strips of four steps in so many rooms, each with a scanner, tone curve and faults of its own."""
    import numpy as np

    from printlore.core.measure.characterise import characterise
    from printlore.core.measure.scan import Scan
    from printlore.core.measure.scanner import Material, Wedge, calibrate, grey_wedge
    from printlore.core.measure.strip import find_paper, find_steps, read_strip
    from printlore.core.measure.wedge import read_wedge
    from printroom.room import settings_around
    from printroom.scans import Faults, Scanner, scanner_channels

    through, silver, charted, ratios, held_out, found = [], [], [], [], [], 0
    for seed in range(rooms):
        room, frame = _room(seed)
        right = room.right_setting(frame)
        outcomes = room.expose_strip(frame, settings_around(right, (-0.15, -0.05, 0.05, 0.15)))
        faults = Faults(tone=("linear", "gamma", "curve")[seed % 3])
        scan = Scanner(room, seed=seed).strip(outcomes, faults=faults, scan=seed)
        picture = Scan(pixels=scan.pixels)
        wedge = Wedge(densities=tuple(tuple(float(d) for d in step.density) for step in scan.wedge))
        report = read_wedge(picture, wedge)
        reading = read_strip(picture, report)
        if len(reading.steps) != len(scan.patches):
            continue
        found += 1
        # A chart on this paper, read by this scanner earlier, at another setting of its tone curve.
        rng = np.random.default_rng(seed)
        channels = scanner_channels(seed)
        dye = np.concatenate([rng.uniform(0, 0.9, (130, 3)) * room.paper.most_dye,
                              np.linspace(0.02, 2.0, 16)[:, None] * room.paper.aim_dye])  # fmt: skip
        seen = np.array([step.scanner_density for step in scan.wedge])
        stated = wedge.as_array()

        density, lab = room.paper.density_and_lab(dye)
        steps = list(np.linspace(0.05, 2.3, 16))
        curves = calibrate(10.0 ** -np.tile(np.array(steps)[:, None], 3), grey_wedge(steps))
        profile = characterise(
            _as_read(room.paper, dye, channels, seen, stated, rng), lab, curves,
            scanner="flatbed", made="2026-11-01", status_a=density,
            material=Material.PHOTOGRAPHIC_PAPER,
        )  # fmt: skip
        held_out.append(profile.report.held_out_mean)
        truth = np.array([patch.density for patch in scan.patches])
        own = np.array([patch.scanner_density for patch in scan.patches])
        ideal = np.stack([np.interp(own[:, k], seen[:, k], stated[:, k]) for k in range(3)], axis=1)
        read = np.array([step.density for step in reading.steps])
        with_chart = read_strip(picture, report, profile=profile)
        through.append(read - ideal)
        silver.append(read - truth)
        charted.append(np.array([step.density for step in with_chart.steps]) - truth)
        ratios.append((read - ideal) / np.array([step.standard_error for step in reading.steps]))
        assert find_steps(picture, find_paper(picture, report.boxes))[0]
    lines = [
        f"Strips of four steps about the right exposure in {rooms} rooms; all steps found in {found}.",
        "",
        "| reading | against | bias (r, g, b) | sd (r, g, b) | cast sd |",
        "|---|---|---|---|---|",
    ]
    for name, against, off in (
        ("wedge in the scan", "a perfect reader through the same channels and wedge", through),
        ("wedge in the scan (silver)", "status A of the print's dyes", silver),
        ("and a chart on the paper read before", "status A of the print's dyes", charted),
    ):
        errors = np.concatenate(off)
        cast = errors - errors.mean(axis=1, keepdims=True)
        bias, sd = (" ".join(f"{v:+.4f}" for v in values) for values in (errors.mean(axis=0), errors.std(axis=0)))
        lines.append(f"| {name} | {against} | {bias} | {sd.replace('+', '')} | {cast.std():.4f} |")
    lines += [
        "",
        f"Errors over stated standard errors, rms: {np.sqrt(np.mean(np.concatenate(ratios) ** 2)):.2f} "
        "(what is stated holds room for light that was not levelled).",
        f"Charts: dE00 of patches held out, mean {np.mean(held_out):.2f}, worst room {np.max(held_out):.2f}.",
    ]
    return lines


def _as_read(paper: Any, dyes: Any, channels: Any, seen: Any, stated: Any, rng: Any) -> Any:
    """Densities of dyes through a scanner's channels and the silver wedge, with 0.003 of noise."""
    import numpy as np

    own = -np.log10(paper.reflectance(dyes) @ channels)
    read = np.stack([np.interp(own[:, k], seen[:, k], stated[:, k]) for k in range(3)], axis=1)
    return read + rng.normal(0, 0.003, own.shape)


def usual_dyes(scanners: int = 300) -> list[str]:
    """How a silver wedge's densities of two published papers' dyes are off in scanners of many kinds."""
    import numpy as np

    from printlore.core.measure.pairs import MID_DENSITY, USUAL, PairKind
    from printlore.core.paper.dyes import generic_paper

    rng = np.random.default_rng(1)
    found = []
    for number in range(scanners):
        paper = generic_paper("ab"[number % 2])
        # Peaks and widths of channels: from memory.
        peak, short, long = rng.uniform((600, 520, 440), (640, 550, 470)), *rng.uniform(10, 30, (2, 3))
        off = paper.wavelength[:, None] - peak
        channels = np.exp(-0.5 * (off / np.where(off < 0, short, long)) ** 2)
        dye = paper.dyes_from_density(rng.uniform(0.3, 1.3, 40)[:, None] + rng.normal(0, 0.08, (40, 3)))
        read = -np.log10(paper.reflectance_from_dyes(dye) @ (channels / channels.sum(axis=0)))
        shift = paper.density_from_dyes(dye) - read
        for k in range(3):
            others = np.delete(read, k, axis=1) - read[:, [k]]
            terms = np.column_stack([np.ones(40), read.mean(axis=1) - MID_DENSITY, others])
            best = np.linalg.lstsq(terms, shift[:, k], rcond=None)[0]
            found.append([*best, (shift[:, k] - terms @ best).std()])
    offset, tone, one, other, left = np.sqrt(np.mean(np.square(found), axis=0))
    usual = USUAL[PairKind.DYES]
    return [
        f"Usual size of a silver wedge's error on dyes, two published papers in {scanners} invented scanners (rms): "
        f"offset {offset:.3f}, tone {tone:.3f}, cast {np.hypot(one, other) / np.sqrt(2):.3f}, left {left:.4f}; taken "
        f"as {usual.offset:g}, {usual.tone:g}, {usual.cast:g}, {usual.left:g}.",
    ]


def known_patches(rooms: int = 40) -> list[str]:
    """What a few known patches of the paper make of a silver wedge's bias, and of differences between two prints."""
    import numpy as np

    from printlore.core.measure.pairs import LearnedShift, Pair, PairKind
    from printroom.room import Room
    from printroom.scans import scanner_channels
    from printroom.spectra import WAVELENGTHS, density_and_lab

    counts = (0, 1, 2, 4)
    off: dict[int, list[Any]] = {count: [] for count in counts}
    between: dict[int, list[Any]] = {count: [] for count in counts}
    ratios: dict[int, list[Any]] = {count: [] for count in counts}
    for seed in range(rooms):
        room, channels, rng = Room(seed), scanner_channels(seed), np.random.default_rng(seed)
        silver = 10.0 ** -(np.linspace(0.05, 2.3, 16)[:, None] * (1 + 0.06 * (560 - WAVELENGTHS) / 1000))
        seen, stated = -np.log10(silver @ channels), density_and_lab(silver)[0]
        dye = room.paper.aim_dye * (1 + rng.normal(0, 0.15, (34, 1))) * (1 + rng.normal(0, 0.06, (34, 3)))
        own, true = -np.log10(room.paper.reflectance(dye) @ channels), room.paper.density_and_lab(dye)[0]
        read = np.stack([np.interp(own[:, k], seen[:, k], stated[:, k]) for k in range(3)], axis=1)
        # The known patches carry errors of a scan and of an instrument.
        by_scan, by_instrument = read[:4] + rng.normal(0, 0.004, (4, 3)), true[:4] + rng.normal(0, 0.005, (4, 3))
        pairs = [Pair(read=tuple(r), known=tuple(t)) for r, t in zip(by_scan, by_instrument, strict=True)]
        for count in counts:
            shift = LearnedShift(kind=PairKind.DYES, pairs=tuple(pairs[:count]))
            answers = [shift.corrected(one) for one in read[4:]]
            errors = np.array([density for density, _ in answers]) - true[4:]
            off[count].append(errors)
            between[count].append(errors[::2] - errors[1::2])
            ratios[count].append(errors / np.array([error for _, error in answers]))
    lines = [
        f"Silver wedge, {rooms} rooms and scanners, prints about the aim (density 15 %, casts 6 %, sd), spectra only:",
        "",
        "| known patches | bias (r, g, b) | sd (r, g, b) | cast sd | off over stated, rms | two prints apart: sd |",
        "|---|---|---|---|---|---|",
    ]
    for count in counts:
        errors, pair = np.concatenate(off[count]), np.concatenate(between[count])
        bias, sd = (" ".join(f"{v:+.4f}" for v in values) for values in (errors.mean(axis=0), errors.std(axis=0)))
        cast = (errors - errors.mean(axis=1, keepdims=True)).std()
        ratio = np.sqrt(np.mean(np.concatenate(ratios[count]) ** 2))
        lines.append(
            f"| {count} | {bias} | {sd.replace('+', '')} | {cast:.4f} | {ratio:.2f} "
            f"| {' '.join(f'{v:.4f}' for v in pair.std(axis=0))} |"
        )
    return lines


def _best(run: Callable[[], Any], repeats: int = 3) -> tuple[float, float]:
    """Smallest elapsed and processor seconds."""
    times = []
    for _ in range(repeats):
        start, own = time.perf_counter(), time.process_time()
        run()
        times.append((time.perf_counter() - start, time.process_time() - own))
    return min(t for t, _ in times), min(t for _, t in times)


def _enlarged(pixels: Any, seed: int) -> Any:
    import cv2
    import numpy as np

    from printlore.core.measure.scan import Scan

    large = cv2.resize(pixels, SIZE, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    large += np.random.default_rng(seed).normal(0, 150, large.shape).astype(np.float32)
    return Scan(pixels=np.clip(np.rint(large), 0, 65535).astype(np.uint16))


def speed() -> list[str]:
    """12-megapixel scans: a strip, and two prints."""
    import cv2
    import numpy as np

    from printlore.core.measure.compare import compare
    from printlore.core.measure.scanner import Wedge
    from printlore.core.measure.strip import find_paper, read_strip
    from printlore.core.measure.wedge import read_wedge
    from printroom.room import settings_around
    from printroom.scans import Faults, Scanner
    from printroom.scenes import harbour

    room, frame = _room(1)
    right = room.right_setting(frame)
    drawn = Scanner(room, seed=1).strip(
        room.expose_strip(frame, settings_around(right, (-0.15, -0.05, 0.05, 0.15))), faults=Faults(rotation=0.2)
    )
    strip = _enlarged(drawn.pixels, 1)
    wedge = Wedge(densities=tuple(tuple(float(d) for d in step.density) for step in drawn.wedge))
    report = read_wedge(strip, wedge)
    boxes, places = report.boxes, [step.box for step in read_strip(strip, report).steps]

    def plain_strip() -> None:
        light = strip.pixels.astype(float) / 65535
        means = np.array([light[b.top : b.bottom, b.left : b.right].mean(axis=(0, 1)) for b in (*boxes, *places)])
        known = means[: len(boxes)]
        for k in range(3):
            order = np.argsort(known[:, k])
            np.interp(means[len(boxes) :, k], known[order, k], wedge.as_array()[order, k])

    made = room.expose(frame, cyan=right.cyan, magenta=right.magenta, yellow=right.yellow, time=right.time)
    scene = harbour(560, 800, 1)
    prints = []
    for number, more in enumerate(((0, 0, 0), (0, 0.04, 0)), 1):
        outcome = replace(made, log_exposure=made.log_exposure + np.array(more))
        sheet = Scanner(room, seed=1).sheet(
            outcome,
            scene,
            faults=Faults(rotation=0.4 * number),
            wedge=[float(d) for d in np.arange(0.05, 2.3, 0.15)],
            scan=number,
        )
        stated = Wedge(densities=tuple(tuple(float(d) for d in step.density) for step in sheet.wedge))
        prints.append((_enlarged(sheet.pixels, number), stated))
    first, second = (scan for scan, _ in prints)
    reports = [read_wedge(scan, stated) for scan, stated in prints]
    within = find_paper(first, reports[0].boxes)

    def plain_compare() -> None:
        grey = [cv2.cvtColor((s.pixels >> 8).astype(np.uint8), cv2.COLOR_RGB2GRAY) for s in (first, second)]
        small = [cv2.resize(g, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for g in grey]
        finder = cv2.SIFT.create()
        (p1, d1), (p2, d2) = (finder.detectAndCompute(g, None) for g in small)
        pairs = [p[0] for p in cv2.BFMatcher().knnMatch(d1, d2, k=2) if p[0].distance < 0.75 * p[1].distance]
        matrix, _ = cv2.estimateAffine2D(
            np.array([p1[m.queryIdx].pt for m in pairs]) * 2, np.array([p2[m.trainIdx].pt for m in pairs]) * 2
        )
        moved = cv2.warpAffine(second.pixels, matrix, SIZE, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        lab = [
            cv2.cvtColor((p / np.float32(65535)).astype(np.float32), cv2.COLOR_RGB2Lab) for p in (first.pixels, moved)
        ]
        np.linalg.norm(lab[0] - lab[1], axis=2)

    lines = [
        "12-megapixel scans of 16 bits, after decoding; smallest of three runs, elapsed (processor) seconds.",
        "",
        "| job | Printlore | plain use of the libraries |",
        "|---|---|---|",
    ]
    for name, ours, plain in (
        ("strip: find, read, with errors", lambda: read_strip(strip, read_wedge(strip, wedge)), plain_strip),
        (
            "two prints: lay over, compare, defects, map",
            lambda: compare(first, second, (reports[0].curves, reports[1].curves), within=within),
            plain_compare,
        ),
    ):  # fmt: skip
        (own, own_cpu), (other, other_cpu) = _best(ours), _best(plain)
        lines.append(f"| {name} | {own:.2f} ({own_cpu:.2f}) | {other:.2f} ({other_cpu:.2f}) |")
    lines += [
        "",
        "The plain strip is given its boxes; the plain comparison knows no densities, tones, errors or defects.",
    ]
    return lines


def main() -> None:
    """Print both, and keep them in ``bench/results/measuring.md``."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rooms", type=int, default=24)
    rooms = parser.parse_args().rooms
    lines = ["# Measuring", "", *accuracy(rooms), "", *known_patches(), "", *usual_dyes(), "", *speed()]
    print("\n".join(lines))
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "measuring.md").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
