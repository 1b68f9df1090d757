"""The print room obeys the trade's physics, its asked-for noise and its seed."""

from dataclasses import replace

import numpy as np
import pytest

from printroom.kinds import IDEAL, KINDS, STEADY_VANE, RoomKind
from printroom.paper import draw_paper
from printroom.room import Conditions, Exposure, Room, settings_around

HEADS = ("vane", "gel", "additive_times", "additive_levels")


def room_of(kind=IDEAL, seed=3, **changes):
    room = Room(seed, replace(kind, **changes))
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    return room


def keywords(exposure):
    return {name: getattr(exposure, name) for name in exposure.__dataclass_fields__}


def expose(room, frame, exposure, **more):
    return room.expose(frame, **keywords(exposure), **more)


@pytest.mark.parametrize("head", HEADS)
class TestDirections:
    """Standard trade practice, negative to positive (NAVEDTRA 14209; common practice)."""

    def moved(self, head, **moves):
        room = room_of(head=head, dial_scale_spread=0.0)
        frame = room.add_frame("film")
        right = room.right_setting(frame)
        grey = {name: getattr(right, name) + 12 for name in ("cyan", "magenta", "yellow")}
        right = replace(right, **grey, time=right.time * 10**0.12)
        changed = replace(right, **{name: getattr(right, name) + move for name, move in moves.items()})
        before, after = expose(room, frame, right), expose(room, frame, changed)
        return after.density - before.density, after.lab - before.lab

    def test_adding_magenta_takes_magenta_away(self, head):
        density, lab = self.moved(head, magenta=10)
        assert density[1] < -0.1
        assert abs(density[1]) > 1.5 * max(abs(density[0]), abs(density[2]))
        assert lab[1] < -3, "greener"

    def test_adding_yellow_takes_yellow_away(self, head):
        density, lab = self.moved(head, yellow=10)
        assert density[2] < -0.1
        assert abs(density[2]) > 1.8 * max(abs(density[0]), abs(density[1]))
        assert lab[2] < -3, "bluer"

    def test_adding_cyan_takes_cyan_away(self, head):
        density, lab = self.moved(head, cyan=10)
        assert density[0] < -0.1
        assert abs(density[0]) > 2 * max(abs(density[1]), abs(density[2]))
        assert lab[1] > 1, "redder"

    def test_more_time_prints_darker(self, head):
        density, lab = self.moved(head, time=3.0)
        assert density.min() > 0.1
        assert lab[0] < -3

    def test_a_denser_negative_prints_lighter(self, head):
        room = room_of(head=head)
        prior = room.latent_prior("film")
        at = room.conditions()
        usual = room.density_for_latent("film", prior.mean, room.usual, at)
        denser = room.density_for_latent("film", prior.mean + 0.1, room.usual, at)
        assert (denser < usual - 0.1).all()


class TestExposureArithmetic:
    @pytest.mark.parametrize("head", HEADS)
    def test_doubling_the_time_is_one_stop_without_reciprocity_failure(self, head):
        """log10 2 = 0.301 by definition."""
        room = room_of(head=head)
        frame = room.add_frame("film")
        before = expose(room, frame, room.usual)
        after = expose(room, frame, replace(room.usual, time=2 * room.usual.time))
        assert after.log_exposure - before.log_exposure == pytest.approx(np.full(3, np.log10(2)), abs=1e-6)

    def test_reciprocity_failure_shifts_the_colour_of_long_exposures(self):
        room = room_of(reciprocity_sd=0.05)
        frame = room.add_frame("film")
        short = expose(room, frame, replace(room.usual, time=5.0))
        long = expose(room, frame, replace(room.usual, time=40.0, f_number=8.0 * 8**0.5))
        shift = long.log_exposure - short.log_exposure
        assert np.ptp(shift) > 0.01

    def test_one_stop_of_the_lens_is_half_the_light(self):
        """-2 log10(N/N0): f/8 to f/11.3 is 0.301."""
        room = room_of()
        frame = room.add_frame("film")
        shift = (
            expose(room, frame, replace(room.usual, f_number=8 * 2**0.5)).log_exposure
            - expose(room, frame, room.usual).log_exposure
        )
        assert shift == pytest.approx(np.full(3, -np.log10(2)), abs=1e-6)

    def test_enlarging_from_7_06_to_14_1_takes_3_5_times_the_light(self):
        """((14.1 + 1) / (7.06 + 1)) ** 2 = 3.51, thin lens."""
        room = room_of()
        frame = room.add_frame("film")
        small, large = (expose(room, frame, replace(room.usual, magnification=m)).log_exposure for m in (7.06, 14.1))
        assert 10 ** (small - large) == pytest.approx(np.full(3, 3.51), abs=0.005)

    def test_a_late_lamp_costs_short_exposures_more(self):
        room = room_of(rise_sd=0.05)
        room._rise = 0.05
        frame = room.add_frame("film")
        five, one = (
            expose(room, frame, replace(room.usual, time=time)).log_exposure - np.log10(time) for time in (5.0, 1.0)
        )
        assert (one < five - 0.01).all()

    @pytest.mark.parametrize("head", HEADS)
    def test_the_right_setting_gives_the_aim_exactly(self, head):
        for seed in range(5):
            room = room_of(head=head, seed=seed, lot_sd=0.05, bath_sd=0.02, lot_contrast_sd=0.02, interlayer=0.012)
            frame = room.add_frame("film")
            right = room.right_setting(frame, f_number=5.6, magnification=4.0)
            assert min(right.dials) == 0
            at = room.conditions()
            density, lab = room.density_at(room.log_exposure_for_latent("film", room.latent_of(frame), right, at), at)
            assert density == pytest.approx(room.aim_density, abs=1e-6)
            assert lab == pytest.approx(room.aim_lab, abs=1e-5)

    def test_vanes_saturate_and_ideal_levels_do_not(self):
        shifts = {}
        for head in ("vane", "additive_levels"):
            room = room_of(head=head, dial_scale_spread=0.0)
            prior, at = room.latent_prior("film"), room.conditions()
            levels = [
                room.log_exposure_for_latent("film", prior.mean, replace(room.usual, magenta=m), at)[1]
                for m in (0, 60, 120)
            ]
            shifts[head] = np.diff(levels)
        vane, levels = shifts["vane"], shifts["additive_levels"]
        assert vane[1] / vane[0] < 0.93
        assert levels[1] / levels[0] == pytest.approx(1, abs=0.06)


class TestPaper:
    def test_curves_rise_from_white_to_a_black_and_are_steepest_between(self):
        for seed in range(5):
            room = room_of(seed=seed)
            log_exposure = np.linspace(-2.5, 3, 400)[:, None] * np.ones(3)
            density = room.density_at(log_exposure, room.conditions())[0]
            assert (np.diff(density, axis=0) >= -1e-9).all()
            assert (density[0] < 0.13).all()
            assert ((density[-1] > 1.9) & (density[-1] < 2.6)).all(), "2.2 to 2.5 of common practice, roughly"
            slope = np.diff(density, axis=0) / np.diff(log_exposure, axis=0)
            assert ((slope.max(axis=0) > 2.4) & (slope.max(axis=0) < 4.2)).all()

    def test_dyes_absorb_beside_their_own_third(self):
        gradients = room_of(interlayer=0.0).gradients()
        own = gradients.diagonal()
        beside = gradients - np.diag(own)
        assert (own > 2).all()
        assert beside.min() >= 0
        assert 0.05 < beside.max() / own.mean() < 0.25

    def test_another_tone_can_be_the_aim(self):
        room = Room(1, IDEAL, aim_lab=(65.0, 12.0, 14.0))
        assert room.density_at(np.zeros(3), _added(room))[1] == pytest.approx([65, 12, 14], abs=1e-6)
        assert room.aim_density[2] > room.aim_density[1] > room.aim_density[0]

    def test_an_aim_beyond_the_paper_is_refused(self):
        with pytest.raises(ValueError, match="cannot give Lab"):
            Room(1, IDEAL, aim_lab=(99.0, 0.0, 0.0))

    def test_a_greyscale_stays_nearly_grey(self):
        lab = room_of(STEADY_VANE).density_at(np.linspace(-0.5, 0.8, 9)[:, None] * np.ones(3), _added(room_of()))[1]
        assert np.abs(lab[:, 1:]).max() < 5


def _added(room):
    room.add_lot("lot")
    room.add_bath("bath")
    return room.conditions()


class TestProcess:
    def test_a_used_or_weak_bath_prints_lighter(self):
        room = room_of(STEADY_VANE, run_sd=0.0, patch_sd=0.0)
        frame = room.add_frame("film")
        fresh = expose(room, frame, room.usual, run="a")
        used = expose(room, frame, room.usual, run="a", area_per_litre=1.0)
        old = expose(room, frame, room.usual, run="a", age_days=14)
        weak = expose(room, frame, room.usual, run="a", strength=0.8)
        for worse in (used, old, weak):
            assert worse.log_exposure.mean() < fresh.log_exposure.mean() - 0.01
            assert worse.density.mean() < fresh.density.mean()

    def test_an_exhausted_bath_loses_contrast(self):
        room = room_of(contrast_per_area=-0.1)
        tones = np.array([[-0.3] * 3, [0.3] * 3])
        fresh = np.ptp(room.density_at(tones, room.conditions())[0], axis=0)
        used = np.ptp(room.density_at(tones, room.conditions(area_per_litre=2.0))[0], axis=0)
        assert (used < 0.95 * fresh).all()

    def test_lots_shift_by_the_sd_asked_for(self):
        room = room_of(lot_sd=0.05)
        shifts = np.array([room._lots[room.add_lot(f"lot {n}")][0] for n in range(600)])
        assert shifts.std(axis=0) == pytest.approx(np.full(3, 0.05), rel=0.12)

    def test_the_lamp_walks_as_the_root_of_days(self):
        ends = np.array([room_of(lamp_drift_sd=0.002, seed=seed)._lamp(100.0) for seed in range(200)])
        assert ends.std(axis=0) == pytest.approx(np.full(3, 0.02), rel=0.2)
        with pytest.raises(ValueError, match="days run from 0"):
            room_of()._lamp(-1.0)


class TestNoise:
    def test_runs_patches_and_readings_scatter_as_asked(self):
        kind = replace(IDEAL, run_sd=0.008, patch_sd=0.004, density_reading_sd=0.006)
        room = room_of(kind)
        frame = room.add_frame("film")
        strips = [room.expose_strip(frame, [room.usual] * 2, run=f"run {n}") for n in range(700)]
        log_exposure = np.array([[patch.log_exposure for patch in strip] for strip in strips])
        within = (log_exposure[:, 0] - log_exposure[:, 1]) / np.sqrt(2)
        assert within.std(axis=0) == pytest.approx(np.full(3, 0.004), rel=0.1)
        total = log_exposure[:, 0].std(axis=0)
        assert total == pytest.approx(np.full(3, np.hypot(0.008, 0.004)), rel=0.1)
        assert np.corrcoef(log_exposure[:, 0].T)[0, 1] == pytest.approx(0.75, abs=0.08)
        reading = np.array([patch.measured - patch.density for strip in strips for patch in strip])
        assert reading.std(axis=0) == pytest.approx(np.full(3, 0.006), rel=0.1)
        assert np.abs(np.corrcoef(reading.T)[0, 1:]).max() < 0.1

    def test_stated_covariances_are_those_of_the_noise(self):
        room = room_of(run_sd=0.01, patch_sd=0.005)
        noise = np.array([room._run_noise(f"run {n}") for n in range(1500)])
        assert np.cov(noise.T) == pytest.approx(room.run_covariance(), rel=0.12)
        assert room.patch_covariance().diagonal() == pytest.approx(np.full(3, 0.005**2))

    def test_frames_scatter_in_printing_density_as_asked(self):
        room = room_of(STEADY_VANE)
        frames = [room.add_frame("film") for _ in range(800)]
        latent = np.array([room.latent_of(frame) for frame in frames])
        printing = -room.log_exposure_for_latent("film", latent, room.usual, room.conditions())
        covariance = np.cov(printing.T)
        assert np.sqrt(covariance.diagonal()) == pytest.approx(np.full(3, np.hypot(0.16, 0.05)), rel=0.12)
        colour = printing - printing.mean(axis=1, keepdims=True)
        assert colour.std(axis=0) == pytest.approx(np.full(3, 0.05 * np.sqrt(2 / 3)), rel=0.15)

    def test_the_stated_prior_is_the_law_of_the_frames(self):
        room = room_of(STEADY_VANE)
        latent = np.array([room.latent_of(room.add_frame("film")) for _ in range(1500)])
        prior = room.latent_prior("film")
        spread = latent - prior.mean
        distance = np.einsum("ni,ij,nj->n", spread, np.linalg.inv(prior.covariance), spread)
        assert distance.mean() == pytest.approx(3, abs=0.25), "chi-square of 3 degrees of freedom"

    def test_readings_of_the_negative_scatter_as_asked_about_the_truth(self):
        room = room_of(negative_reading_sd=0.006)
        frame = room.add_frame("film")
        readings = np.array([room.read_negative(frame, repeat) for repeat in range(600)])
        truth = room.reading_for_latent("film", room.latent_of(frame))
        assert readings.mean(axis=0) == pytest.approx(truth, abs=0.001)
        assert readings.std(axis=0) == pytest.approx(np.full(3, 0.006), rel=0.1)

    def test_a_reading_tells_most_of_the_exposure_but_is_not_it(self):
        """A probe's channels are not the paper's; a straight line through them serves (common practice, no source)."""
        room = room_of()
        rng = np.random.default_rng(1)
        prior = room.latent_prior("film")
        latent = rng.multivariate_normal(prior.mean, prior.covariance, 500)
        reading = room.reading_for_latent("film", latent)
        printing = -room.log_exposure_for_latent("film", latent, room.usual, room.conditions())
        columns = np.c_[np.ones(500), reading]
        line, *_ = np.linalg.lstsq(columns, printing, rcond=None)
        assert (printing - columns @ line).std() < 0.004
        assert np.abs(line[1:] - np.eye(3)).max() > 0.05


class TestSeed:
    def drive(self, seed, order):
        room = Room(seed, KINDS["blundering"])
        for add in order:
            add(room)
        frame = room.add_frame("film", "frame x")
        readings = room.read_negative(frame)
        outcome = expose(room, frame, room.usual, run="run 1", lot="lot", bath="bath", date=12.5)
        return readings, outcome.measured, outcome.density

    def test_same_seed_same_numbers_whatever_the_order_of_calls(self):
        one = [lambda r: r.add_film("film"), lambda r: r.add_lot("lot"), lambda r: r.add_bath("bath")]
        other = [
            lambda r: r.add_bath("another bath"),
            lambda r: r.add_bath("bath"),
            lambda r: r.add_lot("another lot"),
            lambda r: r.add_lot("lot"),
            lambda r: r.add_film("another film"),
            lambda r: r.add_frame("another film", "frame 0") and None,
        ]
        other.insert(5, lambda r: r.add_film("film"))
        for first, second in zip(self.drive(7, one), self.drive(7, other), strict=True):
            assert (first == second).all()

    def test_another_seed_another_room(self):
        one = [lambda r: r.add_film("film"), lambda r: r.add_lot("lot"), lambda r: r.add_bath("bath")]
        for first, second in zip(self.drive(7, one), self.drive(8, one), strict=True):
            assert (first != second).all()

    def test_policies_that_test_otherwise_meet_the_same_noise(self):
        noise = []
        for time in (6.0, 11.0):
            room = room_of(replace(IDEAL, run_sd=0.01, patch_sd=0.003, density_reading_sd=0.006))
            frame = room.add_frame("film")
            room.expose(frame, magenta=40, yellow=40, time=time)
            outcome = room.expose(frame, magenta=40, yellow=40, time=time)
            right = room.log_exposure_for_latent("film", room.latent_of(frame), outcome.made, outcome.conditions)
            noise.append(np.r_[outcome.log_exposure - right, outcome.measured - outcome.density])
        assert noise[0] == pytest.approx(noise[1], abs=1e-12)
        assert np.abs(noise[0]).min() > 0

    def test_patches_of_one_run_share_its_noise_and_runs_do_not(self):
        room = room_of(run_sd=0.01)
        frame = room.add_frame("film")
        strip = room.expose_strip(frame, settings_around(room.usual, (-0.1, 0.0, 0.1)), run="a")
        steps = np.diff([patch.log_exposure for patch in strip], axis=0)
        assert steps == pytest.approx(np.full((2, 3), 0.1), abs=1e-5)
        again = expose(room, frame, room.usual, run="b")
        assert np.abs(again.log_exposure - strip[1].log_exposure).max() > 1e-4


class TestDialsAndBlunders:
    def test_dials_and_time_go_to_their_marks(self):
        room = room_of(dial_step=5.0, time_step=0.5)
        frame = room.add_frame("film")
        outcome = room.expose(frame, magenta=42.4, yellow=58.0, time=7.3)
        assert (outcome.logged.magenta, outcome.logged.yellow, outcome.logged.time) == (40.0, 60.0, 7.5)
        assert outcome.made == outcome.logged

    def test_no_room_blunders_unless_asked(self):
        room = room_of(STEADY_VANE)
        frame = room.add_frame("film")
        assert not any(expose(room, frame, room.usual).blunder for _ in range(200))

    def test_blunders_come_at_their_rate_and_are_large(self):
        room = room_of(blunder_rate=0.05)
        frame = room.add_frame("film")
        outcomes = [expose(room, frame, room.usual) for _ in range(1500)]
        slips = [outcome for outcome in outcomes if outcome.blunder]
        assert 0.035 < len(slips) / len(outcomes) < 0.065
        assert len({outcome.blunder for outcome in slips}) >= 4
        at = room.conditions()
        for outcome in slips:
            meant = room.log_exposure_for_latent("film", room.latent_of(frame), outcome.logged, at)
            assert np.abs(outcome.log_exposure - meant).max() >= 0.15
            assert outcome.made != outcome.logged

    def test_what_cannot_be_dialled_is_refused(self):
        with pytest.raises(ValueError, match="add as much to the other two"):
            Exposure(magenta=-1.0)
        with pytest.raises(ValueError, match="must be above 0"):
            Exposure(time=0.0)

    def test_a_kind_that_cannot_be_is_refused(self):
        with pytest.raises(ValueError, match="use vane"):
            RoomKind(head="candle")
        with pytest.raises(ValueError, match="run_sd is -1"):
            RoomKind(run_sd=-1.0)
        with pytest.raises(ValueError, match="above 0"):
            RoomKind(dial_step=0.0)

    def test_dial_scales_stay_within_the_spread(self):
        scales = np.array([room_of(STEADY_VANE, seed=seed).head.scale for seed in range(60)])
        assert scales.min() >= 1 / 1.4 - 1e-9
        assert scales.max() <= 1.4 + 1e-9
        assert np.ptp(scales) > 0.4


class TestNames:
    def test_unknown_names_say_what_to_do(self):
        room = Room(1, IDEAL)
        with pytest.raises(KeyError, match="add_film it first"):
            room.add_frame("film")
        room.add_film("film")
        frame = room.add_frame("film")
        with pytest.raises(KeyError, match="Add a lot and a bath"):
            room.expose(frame)
        room.add_lot("lot")
        room.add_bath("bath")
        with pytest.raises(KeyError, match="add_frame makes one"):
            room.expose("nothing")
        with pytest.raises(KeyError, match="add_lot, add_bath"):
            room.expose(frame, lot="nothing")
        with pytest.raises(ValueError, match="is a frame"):
            room.add_frame("film", frame)

    def test_conditions_default_to_what_was_added_last(self):
        room = room_of()
        room.add_lot("second lot")
        assert room.conditions(age_days=3.0) == Conditions(lot="second lot", bath="bath", age_days=3.0)

    def test_presets_make_rooms(self):
        for name, kind in KINDS.items():
            room = room_of(kind, seed=2)
            frame = room.add_frame("film")
            outcome = expose(room, frame, room.right_setting(frame))
            assert outcome.blunder or room.delta_e(outcome) < 12, name


class TestAnotherPaper:
    def test_negatives_head_and_lamp_stay_and_the_aim_is_reached(self):
        room = room_of()
        frame = room.add_frame("film")
        before = room.expose(frame, **keywords(room.right_setting(frame)), run="one")
        other = room.on_paper(draw_paper, lot_sd=0.0)
        other.add_lot("lot")
        there = other.expose(frame, **keywords(other.right_setting(frame)))
        assert there.lab == pytest.approx(room.aim_lab, abs=1e-4)
        assert other.transmittance_of(frame, other.latent_of(frame)) == pytest.approx(
            room.transmittance_of(frame, room.latent_of(frame)), abs=0
        )
        assert np.abs(there.density - before.density).max() > 0.005, "its dyes are others"
        again = room.expose(frame, **keywords(room.right_setting(frame)), run="one")
        assert again.density == pytest.approx(before.density, abs=1e-12), "the first room is as it was"

    def test_its_lots_are_its_own_and_as_far_apart_as_asked(self):
        other = room_of().on_paper(draw_paper, lot_sd=0.12)
        with pytest.raises(KeyError):
            other.conditions("lot", "bath")
        shifts = []
        for number in range(200):
            other.add_lot(f"lot {number}")
            shifts.append(other.shift(other.conditions(f"lot {number}", "bath")))
        assert np.std(shifts, axis=0) == pytest.approx(0.12, rel=0.2)
