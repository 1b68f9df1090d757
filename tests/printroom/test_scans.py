"""Pixels of the rendered scans agree with the truth told beside them."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile

from printroom.kinds import IDEAL
from printroom.room import Room, settings_around
from printroom.scans import CLEAN, WEDGE_DENSITIES, Faults, Leak, Scanner, save_tiff, scanner_channels
from printroom.scenes import harbour

STEPS = (-0.3, -0.15, 0.0, 0.15, 0.3)


@pytest.fixture(scope="module")
def room():
    room = Room(5, IDEAL)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    room.add_frame("film", "frame")
    return room


@pytest.fixture(scope="module")
def scanner(room):
    return Scanner(room, seed=2)


@pytest.fixture(scope="module")
def strip(room):
    return room.expose_strip("frame", settings_around(room.right_setting("frame"), STEPS), run="strip")


def pixels_in(scan, patch):
    left, top, right, bottom = patch.box
    return scan.pixels[top:bottom, left:right].reshape(-1, 3) / 65535 / scan.faults.white


def worst_error(scan, against=None):
    """Largest difference of pixel density and told scanner density, over patches and wedge."""
    errors = []
    for patch in scan.patches + scan.wedge:
        light = np.median(pixels_in(scan, patch), axis=0)
        if against is not None:
            light = light / np.median(pixels_in(against, patch), axis=0)
        errors.append(np.abs(-np.log10(light) - patch.scanner_density).max())
    return max(errors)


class TestTruth:
    def test_a_faultless_strip_has_the_told_densities_in_every_pixel_of_its_boxes(self, scanner, strip):
        scan = scanner.strip(strip, faults=CLEAN)
        assert scan.pixels.dtype == np.uint16
        assert worst_error(scan) < 0.002
        for patch in scan.patches + scan.wedge:
            assert np.ptp(pixels_in(scan, patch), axis=0).max() < 1e-4

    def test_told_densities_are_those_of_the_outcomes(self, room, scanner, strip):
        scan = scanner.strip(strip, faults=CLEAN)
        assert [patch.name for patch in scan.patches] == [f"step {n}" for n in range(1, 6)]
        for patch, outcome in zip(scan.patches, strip, strict=True):
            assert patch.density == pytest.approx(outcome.density, abs=1e-9)
            assert patch.lab == pytest.approx(outcome.lab, abs=1e-7)

    @pytest.mark.parametrize("rotation", [-2.0, 0.7, 4.0])
    def test_boxes_follow_the_turned_paper(self, scanner, strip, rotation):
        scan = scanner.strip(strip, faults=replace(CLEAN, rotation=rotation))
        assert worst_error(scan) < 0.002
        for patch in scan.patches:
            assert np.ptp(pixels_in(scan, patch), axis=0).max() < 1e-3
        across = scan.paper[1] - scan.paper[0]
        assert np.degrees(np.arctan2(across[1], across[0])) == pytest.approx(rotation)

    def test_wedge_steps_are_told_within_their_nominal_densities(self, scanner, strip):
        scan = scanner.strip(strip, faults=CLEAN)
        told = np.array([step.density for step in scan.wedge])
        assert told[:, 1] == pytest.approx(WEDGE_DENSITIES, rel=0.01)
        assert len(scanner.strip(strip, wedge=(0.1, 0.5, 1.0)).wedge) == 3

    def test_the_scanner_is_not_a_densitometer_and_the_wedge_is_not_dye(self, scanner, strip):
        """On silver grey the scanner agrees with status A; on dyes it errs, by 0.01 to 0.1 at mid-grey."""
        scan = scanner.strip(strip, faults=CLEAN)
        on_wedge = max(np.abs(step.density - step.scanner_density).max() for step in scan.wedge)
        on_dye = np.abs(scan.patches[2].density - scan.patches[2].scanner_density).max()
        assert on_wedge < 0.01
        assert 0.01 < on_dye < 0.1
        assert scanner_channels(1).sum(axis=0) == pytest.approx(np.ones(3))


class TestFaults:
    def test_faults_change_the_reading_but_little_at_the_median(self, scanner, strip):
        scan = scanner.strip(strip, faults=Faults(tone="linear"))
        assert 0.002 < worst_error(scan) < 0.25

    def test_light_is_uneven_by_what_is_asked(self, room, scanner):
        even = scanner.blank(room.conditions(), faults=CLEAN).pixels / 65535
        uneven = scanner.blank(room.conditions(), faults=replace(CLEAN, uneven=0.05)).pixels / 65535
        ratio = uneven[..., 1] / even[..., 1]
        assert np.ptp(ratio) == pytest.approx(0.05, abs=0.002)
        assert ratio.mean() == pytest.approx(1.0, abs=0.003)

    def test_the_light_of_a_bed_stays_from_scan_to_scan(self, room, scanner):
        faults = replace(CLEAN, uneven=0.05)
        first, second = (scanner.blank(room.conditions(), faults=faults, scan=n).pixels for n in (1, 2))
        assert (first == second).all()

    def test_flare_lightens_the_darks(self, scanner, strip):
        clean, flared = (
            np.median(pixels_in(scan, scan.wedge[-1]), axis=0)
            for scan in (scanner.strip(strip, faults=CLEAN), scanner.strip(strip, faults=replace(CLEAN, flare=0.01)))
        )
        assert (flared > 1.5 * clean).all()

    def test_noise_has_the_sd_asked_for_near_white(self, scanner, strip):
        scan = scanner.strip(strip, faults=replace(CLEAN, noise=0.01))
        light = pixels_in(scan, scan.wedge[0])
        level = np.median(light, axis=0)
        assert light.std(axis=0) == pytest.approx(0.01 * (0.2 + 0.8 * np.sqrt(level)), rel=0.05)

    def test_dust_and_scratches_are_few_outliers(self, scanner, strip):
        clean = scanner.strip(strip, faults=CLEAN).pixels.astype(int)
        dirty = scanner.strip(strip, faults=replace(CLEAN, dust=60, scratches=3)).pixels.astype(int)
        touched = (np.abs(dirty - clean).max(axis=-1) > 300).mean()
        assert 0.0005 < touched < 0.02

    @pytest.mark.parametrize("tone", ["linear", "gamma", "curve"])
    def test_tone_curves_rise_and_keep_black_and_white(self, scanner, strip, tone):
        scan = scanner.strip(strip, faults=replace(CLEAN, tone=tone))
        levels = np.array([np.median(pixels_in(scan, step), axis=0) for step in scan.wedge])
        assert (np.diff(levels, axis=0) < 0).all()

    def test_gamma_is_2_2(self, scanner, strip):
        linear, bent = (
            np.median(pixels_in(scan, scan.wedge[6]), axis=0) * 0.92
            for scan in (scanner.strip(strip, faults=CLEAN), scanner.strip(strip, faults=replace(CLEAN, tone="gamma")))
        )
        assert bent**2.2 == pytest.approx(linear, rel=1e-3)

    def test_too_bright_a_scan_clips_the_lights_only(self, scanner, strip):
        scan = scanner.strip(strip, faults=replace(CLEAN, white=1.6))
        assert (pixels_in(scan, scan.wedge[0]) * 1.6 == 1.0).all()
        assert (pixels_in(scan, scan.wedge[8]) * 1.6 < 0.9).all()

    def test_a_scan_comes_again_from_its_seed_and_another_has_other_noise(self, scanner, strip):
        first, again, other = (scanner.strip(strip, scan=number).pixels for number in (1, 1, 2))
        assert (first == again).all()
        assert (first != other).mean() > 0.5


class TestPictures:
    def test_a_sheet_shows_the_scene_with_its_grey_card_at_the_aim(self, room, scanner):
        right = room.right_setting("frame")
        outcome = room.expose("frame", magenta=right.magenta, yellow=right.yellow, time=right.time)
        scan = scanner.sheet(outcome, harbour(220, 300, seed=1), faults=CLEAN, wedge=WEDGE_DENSITIES)
        assert worst_error(scan) < 0.002
        truth = {patch.name: patch for patch in scan.patches}
        assert truth["grey card"].lab == pytest.approx(room.aim_lab, abs=0.05)
        assert truth["light card"].lab[0] > 75
        assert truth["dark card"].lab[0] < 30
        assert truth["door"].lab[1] > 10, "a red door"

    def test_an_across_picture_strip_tells_only_patches_within_one_step(self, scanner, strip):
        scene = harbour(204, 480, seed=1)  # five steps of 16 by 34 mm, 6 pixels to the mm
        scan = scanner.strip(strip, scene=scene, faults=CLEAN)
        assert "step 3: grey card" in [patch.name for patch in scan.patches]
        assert worst_error(scan) < 0.002

    def test_a_scene_of_another_size_is_refused(self, scanner, strip):
        with pytest.raises(ValueError, match="The scene is"):
            scanner.strip(strip, scene=harbour(100, 100))

    def test_an_unexposed_sheet_is_white_all_over(self, room, scanner):
        scan = scanner.blank(room.conditions(), faults=CLEAN)
        assert scan.patches[0].name == "top left"
        for patch in scan.patches:
            assert patch.density.max() < 0.13
            assert patch.lab[0] > 88

    @pytest.mark.parametrize(("light", "channel"), [("red", 0), ("green", 1), ("blue", 2)])
    def test_a_leak_fogs_its_edge_in_the_complement_of_its_light(self, room, scanner, light, channel):
        """Red light makes cyan dye, green magenta, blue yellow: physics of the three layers."""
        leak = Leak(where="left", light=light, log_exposure=0.2)
        scan = scanner.blank(room.conditions(), leaks=[leak], faults=CLEAN)
        truth = {patch.name: patch.density for patch in scan.patches}
        rise = truth["left"] - truth["right"]
        assert rise[channel] == max(rise)
        assert rise[channel] > 0.3
        assert np.abs(truth["centre"] - truth["right"]).max() < 0.1 * rise[channel]

    def test_a_corner_leak_fogs_its_corner_most(self, room, scanner):
        leak = Leak(where="bottom right", light="white")
        truth = {p.name: p.density.mean() for p in scanner.blank(room.conditions(), leaks=[leak]).patches}
        assert max(truth, key=truth.get) == "bottom right"
        assert truth["bottom"] < truth["bottom right"] - 0.2

    def test_stain_shows_in_the_whites(self, room, scanner):
        plain, stained = (
            scanner.blank(room.conditions(), stain=stain, faults=CLEAN).patches[4].density
            for stain in ((0.0, 0.0, 0.0), (0.0, 0.0, 0.05))
        )
        assert stained[2] - plain[2] == pytest.approx(0.05, abs=0.01)

    def test_a_leak_nowhere_is_refused(self, room, scanner):
        with pytest.raises(ValueError, match='use left, "top left"'):
            scanner.blank(room.conditions(), leaks=[Leak(where="inside")])

    def test_a_negative_against_its_empty_carrier_reads_as_told(self, scanner):
        negative, carrier = scanner.negative("frame", harbour(200, 300), faults=CLEAN)
        assert worst_error(negative, carrier) < 0.003
        truth = {patch.name: patch.density for patch in negative.patches}
        assert (truth["light card"] > truth["grey card"] + 0.2).all()
        assert (truth["dark card"] < truth["grey card"] - 0.2).all()
        assert truth["clear film"][0] < truth["clear film"][1] < truth["clear film"][2], "orange"

    def test_a_noisy_negative_still_reads_its_reference_patch(self, scanner):
        negative, carrier = scanner.negative("frame", harbour(300, 400))
        card = negative.patches[0]
        density = -np.log10(np.median(pixels_in(negative, card), axis=0) / np.median(pixels_in(carrier, card), axis=0))
        assert density == pytest.approx(card.density, abs=0.05)

    def test_saved_scans_keep_sixteen_bits(self, scanner, strip, tmp_path):
        scan = scanner.strip(strip)
        save_tiff(tmp_path / "strip.tif", scan)
        assert (tifffile.imread(tmp_path / "strip.tif") == scan.pixels).all()
