"""One simulated print room: lamp, head, negatives, paper, baths, readers and eyes, from a seed.

Built apart from the estimator: own spectra, own curves, own arithmetic. In short::

    room = Room(seed=3, kind=KINDS["steady vane"])
    room.add_film("film A"); room.add_lot("lot 1"); room.add_bath("bath 1")
    frame = room.add_frame("film A")
    r = room.read_negative(frame)                            # (red, green, blue), against the empty carrier
    outcome = room.expose(frame, magenta=50, yellow=60, time=8.0)
    outcome.measured, room.delta_e(outcome), room.judge(outcome, "printer")
    best = room.right_setting(frame)                         # noise-free, for regret

Vectors are (red, green, blue): layers, or densities read through that light. Exposures add up in log10; more is darker.

Every random number is keyed by the seed and the *names* it belongs to (lot, frame, run, how many-th patch of that
frame in that run), never by the order of calls. Two policies driven in two rooms of one seed and kind, that call their
runs alike, meet the same frames and the same noise. A run left unnamed is "<frame> #<number>".

Log exposure 0 in all three layers gives ``aim_lab`` exactly: the average frame of an average film does so at about
10 s, f/8, magnification 8 and some pack, on a lot and bath without a shift.

An information-limit scoreboard, which knows all but the frame and the noise, uses ``latent_prior``,
``reading_for_latent``, ``density_for_latent`` and the sds in ``kind``.
"""

import copy
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr

from printroom import eye
from printroom.chance import generator, normals
from printroom.colour_difference import ciede2000
from printroom.kinds import STEADY_VANE, RoomKind
from printroom.light import draw_head
from printroom.negative import Film, draw_film_spectra, draw_reader
from printroom.paper import Paper, draw_paper
from printroom.spectra import Floats

_LOT_COMMON, _BATH_COMMON, _LAMP_COMMON = 0.5, 0.6, 0.7
"""Share of the variance of lots, baths and the lamp's walk that the three layers have in common."""
_FAMILY_SHARE, _OWN_SHARE = 0.8, 0.6
"""Of the spread of ageing: what the room's baths have in common, and each for itself; their squares add up to 1."""
REFERENCE_TIME, REFERENCE_F_NUMBER, REFERENCE_MAGNIFICATION = 10.0, 8.0, 8.0
LEAST_BLUNDER = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """What is dialled: pack [dial units], time [s], f-number as marked, magnification.

    For additive heads see ``printroom.light``: channel k gets ``10 ** (-p_k / 100)`` of its time or level.
    """

    cyan: float = 0.0
    magenta: float = 0.0
    yellow: float = 0.0
    time: float = REFERENCE_TIME
    f_number: float = REFERENCE_F_NUMBER
    magnification: float = REFERENCE_MAGNIFICATION

    def __post_init__(self) -> None:
        if min(self.cyan, self.magenta, self.yellow) < 0:
            raise ValueError(f"A filter below 0 in {self}: add as much to the other two instead.")
        if not (0 < self.time < math.inf and 0 < self.f_number < math.inf and 0 < self.magnification < math.inf):
            raise ValueError(f"Time, f-number and magnification must be above 0 in {self}.")

    @property
    def dials(self) -> Floats:
        """(cyan, magenta, yellow)."""
        return np.array([self.cyan, self.magenta, self.yellow])


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Paper and process of one exposure: lot and bath by name, the bath's state, the day."""

    lot: str
    bath: str
    area_per_litre: float = 0.0
    age_days: float = 0.0
    strength: float = 1.0
    date: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """One exposed and processed patch.

    Attributes
    ----------
    frame, run : str
    patch : int
        How many-th exposure of this frame in this run, from 0.
    conditions : Conditions
    logged, made : Exposure
        What the notebook says; what really was. They differ by a blunder, else by the dials' setting error.
    density, lab : (3,) arrays
        Truth: status A (red, green, blue); Lab, D50, 2 degrees.
    measured : (3,) array
        Density as read.
    log_exposure : (3,) array
        Truth, with all noise; 0 gives the aim.
    blunder : str
        What went wrong in words; empty if nothing did.
    """

    frame: str
    run: str
    patch: int
    conditions: Conditions
    logged: Exposure
    made: Exposure
    density: Floats
    lab: Floats
    measured: Floats
    log_exposure: Floats
    blunder: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LatentPrior:
    """Mean (3,) and covariance (3, 3) of a frame's dye amounts; exact: frames are drawn from this normal law."""

    mean: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChangePrior:
    """Laws that this room's lots, baths and lamp are drawn from, what all its baths have in common being known.

    Attributes
    ----------
    lot, bath : (3, 3) covariance of a shift about zero
    per_area, per_day : (3,) mean change per m2/L and per day
    per_area_sd, per_day_sd : float, of one bath's layers about that
    lamp : (3, 3) covariance of the walk of one day
    """

    lot: Floats
    bath: Floats
    per_area: Floats
    per_day: Floats
    per_area_sd: float
    per_day_sd: float
    lamp: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Bath:
    shift: Floats
    contrast: float
    per_area: Floats
    per_day: Floats
    contrast_per_area: float
    per_strength: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    film: str
    latent: Floats
    transmittance: Floats = field(repr=False)


def correlated(sd: float, common: float, draws: Floats) -> Floats:
    """Three layers' deviates of this sd from four normals, ``common`` being the shared part of the variance."""
    return np.asarray(sd * (math.sqrt(common) * draws[0] + math.sqrt(1 - common) * draws[1:4]))


class Room:
    """A print room drawn from ``seed`` and ``kind``, its paper by ``draw``; see the module for how to drive it.

    Attributes
    ----------
    aim_lab, aim_density : (3,) arrays
        The good print's reference patch, and its status A densities on this room's paper.
    paper : Paper
    head : HeadSpectra
    usual : Exposure
        What a printer here would start from: right for the average frame of an average film, to a filter of 5.
    """

    def __init__(
        self,
        seed: int,
        kind: RoomKind = STEADY_VANE,
        *,
        aim_lab: tuple[float, float, float] = (52.0, 0.0, 0.0),
        draw: Callable[[np.random.Generator, float, tuple[float, float, float]], Paper] = draw_paper,
    ) -> None:
        self.seed, self.kind = seed, kind
        self.aim_lab = np.array(aim_lab)
        self.paper = draw(self._rng("paper"), kind.interlayer, aim_lab)
        self.aim_density = self.paper.density_and_lab(self.paper.aim_dye)[0]
        self.head = draw_head(kind, self._rng("head"))
        self._reader = draw_reader(self._rng("reader"))
        rng = self._rng("room")
        self._reciprocity = 1 + rng.normal(0.0, kind.reciprocity_sd, 3)
        self._rise = float(np.clip(rng.normal(0.0, kind.rise_sd), -0.1, 0.1))
        self._films: dict[str, Film] = {}
        self._lots: dict[str, tuple[Floats, float]] = {}
        self._baths: dict[str, _Bath] = {}
        self._frames: dict[str, _Frame] = {}
        self._drift: Floats | None = None
        self._last_shift: tuple[Conditions | None, tuple[Floats, float]] = (None, (np.zeros(3), 1.0))
        self._cache: dict[tuple[str, str], Floats] = {}
        self._stops: dict[float, float] = {}
        self._patches: dict[tuple[str, str], int] = {}
        self._unnamed: dict[str, int] = {}

        pack = self._usual_pack(rng)
        self._film_base, self._film_dyes = draw_film_spectra(self._rng("film family"))
        self._average_dye = np.array([0.62, 0.66, 0.70]) * np.exp(rng.normal(0.0, 0.06))
        right = replace(pack, time=float(REFERENCE_TIME * 10 ** rng.normal(0.0, 0.06)))
        self._speed = np.zeros(3)
        self._speed = self._speed_for(right)
        self.usual = right if kind.dial_step < 0.1 else self._to_marks(right, 5.0)

    def _speed_for(self, right: Exposure) -> Floats:
        """(3,) speed of the paper's layers that makes this exposure right for the average frame."""
        average = 10.0 ** -(self._film_base + self._average_dye @ self._film_dyes)
        return self._speed - self._light_log_exposure(average, right)

    def on_paper(
        self, draw: Callable[[np.random.Generator, float, tuple[float, float, float]], Paper], lot_sd: float
    ) -> "Room":
        """This room with paper of another family, drawn by ``draw``: head, negatives, baths, lamp and noise stay.

        Its lots, to be added anew, lie ``lot_sd`` [log10] about the speed at which the usual setting would be right.
        """
        other = copy.copy(self)
        other.kind = replace(self.kind, lot_sd=lot_sd)
        other.paper = draw(self._rng("other paper"), self.kind.interlayer, tuple(self.aim_lab.tolist()))
        other.aim_density = other.paper.density_and_lab(other.paper.aim_dye)[0]
        other._lots, other._last_shift = {}, (None, (np.zeros(3), 1.0))
        other._speed = other._speed_for(self.usual)
        return other

    # names and numbers

    def _rng(self, *names: object) -> np.random.Generator:
        return generator(self.seed, *names)

    def _usual_pack(self, rng: np.random.Generator) -> Exposure:
        wanted = np.array([0.0, rng.normal(48.0, 8.0), rng.normal(58.0, 8.0)]) / self.head.scale
        if self.kind.head.startswith("additive"):
            wanted = np.array([0.0, rng.normal(20.0, 8.0), rng.normal(30.0, 8.0)])
        return Exposure(cyan=0.0, magenta=float(max(wanted[1], 5.0)), yellow=float(max(wanted[2], 5.0)))

    def _to_marks(self, exposure: Exposure, step: float) -> Exposure:
        time_step = self.kind.time_step
        return Exposure(
            cyan=round(exposure.cyan / step) * step,
            magenta=round(exposure.magenta / step) * step,
            yellow=round(exposure.yellow / step) * step,
            time=max(round(exposure.time / time_step) * time_step, time_step),
            f_number=exposure.f_number,
            magnification=exposure.magnification,
        )

    # what the room holds

    def add_film(self, name: str) -> str:
        """A film, its base, dyes and average frame drawn by its name. Adding it again changes nothing."""
        if name not in self._films:
            rng = self._rng("film", name)
            base, dyes = draw_film_spectra(rng)
            base, dyes = (self._film_base + base) / 2, (self._film_dyes + dyes) / 2
            kind = self.kind
            wanted = kind.film_sd_common * rng.normal() + kind.film_sd_colour * rng.standard_normal(3)
            film = Film(base, dyes, self._average_dye, np.eye(3))
            for _ in range(4):
                now = self._printing_density(film.transmittance(film.mean)) - self._printing_density(
                    10.0 ** -(self._film_base + self._average_dye @ self._film_dyes)
                )
                step = np.linalg.solve(self._printing_jacobian(film), wanted - now)
                film = replace(film, mean=film.mean + step)
            inverse = np.linalg.inv(self._printing_jacobian(film))
            printing = kind.frame_sd_common**2 * np.ones((3, 3)) + kind.frame_sd_colour**2 * np.eye(3)
            self._films[name] = replace(film, covariance=inverse @ printing @ inverse.T)
        return name

    def add_lot(self, name: str) -> str:
        """A paper lot of the room's one family: a shift of log exposure and of contrast."""
        if name not in self._lots:
            rng = self._rng("lot", name)
            shift = correlated(self.kind.lot_sd, _LOT_COMMON, rng.standard_normal(4))
            self._lots[name] = (shift, math.exp(rng.normal(0.0, self.kind.lot_contrast_sd)))
        return name

    def add_bath(self, name: str) -> str:
        """A newly mixed developer, and how it will age."""
        if name not in self._baths:
            rng, kind = self._rng("bath", name), self.kind
            own, family = rng.standard_normal((2, 3)), self._bath_family()
            spread = 1 + kind.ageing_spread * (_FAMILY_SHARE * family + _OWN_SHARE * own)
            self._baths[name] = _Bath(
                shift=correlated(kind.bath_sd, _BATH_COMMON, rng.standard_normal(4)),
                contrast=math.exp(rng.normal(0.0, kind.bath_contrast_sd)),
                per_area=kind.ageing_per_area * spread[0],
                per_day=kind.ageing_per_day * spread[1],
                contrast_per_area=kind.contrast_per_area,
                per_strength=kind.strength_exponent * (1 + 0.15 * family[0]),
            )
        return name

    def _bath_family(self) -> Floats:
        return self._rng("bath family").standard_normal((2, 3))

    def add_frame(self, film: str, name: str | None = None) -> str:
        """A negative of this film; its reference patch is drawn by its name ("frame 1", "frame 2" ... if not given)."""
        name = f"frame {len(self._frames) + 1}" if name is None else name
        if name in self._frames:
            raise ValueError(f'There is a frame "{name}" already; give another name.')
        stock = self._film(film)
        draws = normals(4, self.seed, "frame", name)
        kind = self.kind
        printing = kind.frame_sd_common * draws[0] + kind.frame_sd_colour * draws[1:]
        latent = stock.mean + np.linalg.solve(self._printing_jacobian(stock), printing)
        self._frames[name] = _Frame(film, latent, stock.transmittance(latent))
        return name

    def _film(self, name: str) -> Film:
        try:
            return self._films[name]
        except KeyError:
            raise KeyError(
                f'No film "{name}" in this room; add_film it first. There are: {list(self._films)}'
            ) from None

    def _frame(self, name: str) -> _Frame:
        try:
            return self._frames[name]
        except KeyError:
            raise KeyError(f'No frame "{name}" in this room; add_frame makes one and returns its name.') from None

    # light

    def _stop_error(self, f_number: float) -> float:
        if f_number not in self._stops:
            rng = self._rng("stop", round(10 * f_number))
            self._stops[f_number] = float(rng.normal(0.0, self.kind.stop_sd))
        return self._stops[f_number]

    def _light_log_exposure(self, transmittance: Floats, exposure: Exposure) -> Floats:
        """(..., 3) log exposure for spectral transmittances (..., 81), without paper lot, process and drift."""
        geometry = self._geometry(exposure.f_number, exposure.magnification)
        return self._light(transmittance, exposure.dials, exposure.time) + geometry

    def _light(self, transmittance: Floats, dials: Floats, time: float) -> Floats:
        head, seconds = self.head, np.maximum(self.head.times(dials, time) - self._rise, 1e-3)
        timed = (seconds[:, None] / REFERENCE_TIME) ** self._reciprocity
        spectra = head.spectra(dials)
        if len(spectra) == 1:
            energy = timed[0] * ((transmittance * spectra[0]) @ self.paper.sensitivity)
        else:
            energy = transmittance @ (spectra.T[:, :, None] * self.paper.sensitivity[:, None, :] * timed).sum(axis=1)
        return np.asarray(np.log10(energy) + self._speed)

    def _geometry(self, f_number: float, magnification: float) -> float:
        size = f_number / REFERENCE_F_NUMBER * (magnification + 1) / (REFERENCE_MAGNIFICATION + 1)
        return self._stop_error(f_number) - 2 * math.log10(size)

    def _printing_density(self, transmittance: Floats) -> Floats:
        return -self._light_log_exposure(transmittance, Exposure(magenta=self.usual.magenta, yellow=self.usual.yellow))

    def _printing_jacobian(self, film: Film) -> Floats:
        """Printing density by dye amount (3, 3), at the film's average frame."""
        step = 0.01
        ends = np.concatenate([film.mean + step * np.eye(3), film.mean - step * np.eye(3)])
        density = self._printing_density(film.transmittance(ends))
        return np.asarray((density[:3] - density[3:]).T / (2 * step))

    def _lamp(self, date: float) -> Floats:
        if self._drift is None:
            steps = self._rng("lamp").standard_normal((4000, 4))
            moves = correlated(self.kind.lamp_drift_sd, _LAMP_COMMON, steps.T).T
            self._drift = np.vstack([np.zeros(3), np.cumsum(moves, axis=0)])
        if not 0 <= date <= len(self._drift) - 1:
            raise ValueError(f"date is {date:g}; days run from 0 to {len(self._drift) - 1}.")
        day = min(int(date), len(self._drift) - 2)
        part = date - day
        return np.asarray((1 - part) * self._drift[day] + part * self._drift[day + 1])

    def _shift(self, at: Conditions) -> tuple[Floats, float]:
        """Log exposure (3,) and contrast that lamp, lot and bath add."""
        if at == self._last_shift[0]:
            return self._last_shift[1]
        if at.lot not in self._lots or at.bath not in self._baths:
            raise KeyError(f'Add lot "{at.lot}" and bath "{at.bath}" to the room first (add_lot, add_bath).')
        lot, lot_contrast = self._lots[at.lot]
        bath = self._baths[at.bath]
        shift = lot + bath.shift + bath.per_area * at.area_per_litre + bath.per_day * at.age_days + self._lamp(at.date)
        if at.strength != 1.0:
            shift = shift + bath.per_strength * math.log10(at.strength)
        contrast = lot_contrast * bath.contrast * math.exp(bath.contrast_per_area * at.area_per_litre)
        self._last_shift = (at, (shift, contrast))
        return shift, contrast

    def conditions(self, lot: str | None = None, bath: str | None = None, **state: float) -> Conditions:
        """Conditions; lot and bath default to the last ones added."""
        if not (self._lots and self._baths):
            raise KeyError("Add a lot and a bath to the room first (add_lot, add_bath).")
        return Conditions(lot=lot or list(self._lots)[-1], bath=bath or list(self._baths)[-1], **state)

    # noise

    def _run_noise(self, run: str) -> Floats:
        key = ("run", run)
        if key not in self._cache:
            self._cache[key] = correlated(self.kind.run_sd, self.kind.run_common, normals(4, self.seed, *key))
        return self._cache[key]

    # what the printer does

    def read_negative(self, frame: str, repeat: int = 0) -> Floats:
        """(3,) -log10 transmittance of the reference patch in the reader's channels, noise included; one per repeat."""
        noise = self.kind.negative_reading_sd * normals(3, self.seed, "reading", frame, repeat)
        return -np.log10(self._frame(frame).transmittance @ self._reader) + noise

    def expose(
        self,
        frame: str,
        *,
        cyan: float = 0.0,
        magenta: float = 0.0,
        yellow: float = 0.0,
        time: float = REFERENCE_TIME,
        f_number: float = REFERENCE_F_NUMBER,
        magnification: float = REFERENCE_MAGNIFICATION,
        lot: str | None = None,
        bath: str | None = None,
        area_per_litre: float = 0.0,
        age_days: float = 0.0,
        strength: float = 1.0,
        date: float = 0.0,
        run: str | None = None,
    ) -> Outcome:
        """Expose and process the reference patch of a frame once. Exposures of one ``run`` share its noise."""
        exposure = Exposure(
            cyan=cyan, magenta=magenta, yellow=yellow, time=time, f_number=f_number, magnification=magnification
        )
        at = self.conditions(lot, bath, area_per_litre=area_per_litre, age_days=age_days, strength=strength, date=date)
        return self._expose(frame, exposure, at, self._run_name(frame, run))

    def expose_strip(
        self, frame: str, exposures: Iterable[Exposure], conditions: Conditions | None = None, run: str | None = None
    ) -> tuple[Outcome, ...]:
        """Several separate exposures of the reference patch on one strip, in one run; a blunder can befall each."""
        run = self._run_name(frame, run)
        at = conditions or self.conditions()
        return tuple(self._expose(frame, exposure, at, run) for exposure in exposures)

    def _run_name(self, frame: str, run: str | None) -> str:
        if run is not None:
            return run
        self._unnamed[frame] = self._unnamed.get(frame, 0) + 1
        return f"{frame} #{self._unnamed[frame]}"

    def _expose(self, frame: str, asked: Exposure, at: Conditions, run: str) -> Outcome:
        negative, kind = self._frame(frame), self.kind
        patch = self._patches.get((run, frame), 0)
        self._patches[run, frame] = patch + 1
        draws = normals(12, self.seed, "patch", run, frame, patch)
        logged = self._to_marks(asked, kind.dial_step)
        made, blunder = logged, ""
        if kind.blunder_rate and ndtr(draws[11]) < kind.blunder_rate:
            made, blunder = self._blunder(logged, negative.transmittance, self._rng("blunder", run, frame, patch))
        errors = (kind.dial_setting_sd * draws[0:3]).tolist()
        cyan, magenta, yellow = (
            max(dial + error, 0.0) if dial else 0.0
            for dial, error in zip((made.cyan, made.magenta, made.yellow), errors, strict=True)
        )
        made = Exposure(
            cyan=cyan,
            magenta=magenta,
            yellow=yellow,
            time=max(made.time + kind.timer_sd * float(draws[3]), 0.01),
            f_number=made.f_number,
            magnification=made.magnification,
        )
        shift, contrast = self._shift(at)
        log_exposure = (
            self._light_log_exposure(negative.transmittance, made)
            + shift
            + self._run_noise(run)
            + correlated(kind.patch_sd, kind.run_common, draws[4:8])
        )
        density, lab = self.paper.density_and_lab(self.paper.dye(log_exposure, contrast))
        return Outcome(
            frame=frame, run=run, patch=patch, conditions=at, logged=logged, made=made, density=density, lab=lab,
            measured=density + kind.density_reading_sd * draws[8:11], log_exposure=log_exposure, blunder=blunder,
        )  # fmt: skip

    def _blunder(self, logged: Exposure, transmittance: Floats, rng: np.random.Generator) -> tuple[Exposure, str]:
        """Another exposure than the logged one, by LEAST_BLUNDER or more in a layer; the last resort is a stop."""
        slips = {
            "magenta dialled with its digits slipped": replace(logged, magenta=_slipped(logged.magenta)),
            "yellow dialled with its digits slipped": replace(logged, yellow=_slipped(logged.yellow)),
            "magenta and yellow swapped": replace(logged, magenta=logged.yellow, yellow=logged.magenta),
            "time left at half": replace(logged, time=logged.time / 2),
            "time given twice": replace(logged, time=logged.time * 2),
            "lens left one stop open": replace(logged, f_number=logged.f_number / math.sqrt(2)),
            "lens closed one stop too far": replace(logged, f_number=logged.f_number * math.sqrt(2)),
        }
        right = self._light_log_exposure(transmittance, logged)
        order = rng.permutation(list(slips))
        for words in order:
            made = slips[str(words)]
            if np.abs(self._light_log_exposure(transmittance, made) - right).max() >= LEAST_BLUNDER:
                return made, str(words)
        raise AssertionError("a stop is always more than the least blunder")

    # judging

    def delta_e(self, outcome: Outcome) -> float:
        """CIEDE2000 of the true print to the aim."""
        return float(ciede2000(outcome.lab, self.aim_lab))

    def judge(self, outcome: Outcome, person: str) -> eye.Judgement:
        """What this person says of the outcome; each has a scale of their own (sd 20 %)."""
        rng = self._rng("judgement", person, outcome.run, outcome.frame, outcome.patch)
        gradient = float(self.gradients().diagonal().mean())
        return eye.judge(
            outcome.density - self.aim_density,
            gradient=gradient,
            scale=self.scale_of(person),
            noise_sd=self.kind.eye_sd,
            rng=rng,
        )

    def scale_of(self, person: str) -> float:
        """By how much more of a cast than there is this person sees [1]."""
        return math.exp(self._rng("person", person).normal(0.0, 0.2))

    def gradients(self) -> Floats:
        """(3, 3) change of status A density (row) by log exposure of a layer (column), at the aim."""
        step = 0.002
        ends = self.paper.density_and_lab(self.paper.dye(step * np.vstack([np.eye(3), -np.eye(3)])))[0]
        return np.asarray((ends[:3] - ends[3:]).T / (2 * step))

    # everything known but the frame and the noise

    def latent_of(self, frame: str) -> Floats:
        """(3,) dye amounts of the frame's reference patch: the truth."""
        return self._frame(frame).latent.copy()

    def film_of(self, frame: str) -> str:
        """Name of the film that the frame is on."""
        return self._frame(frame).film

    def transmittance_of(self, frame: str, latent: Floats) -> Floats:
        """(..., 81) spectral transmittance of the frame's film with these dye amounts (..., 3), base included."""
        return self._film(self._frame(frame).film).transmittance(np.asarray(latent))

    def dye_for_printing_density(self, frame: str, printing_density: Floats) -> Floats:
        """(..., 3) film dye that adds these printing densities (..., 3), to first order at the film's average frame."""
        film = self._film(self._frame(frame).film)
        return np.asarray(np.asarray(printing_density) @ np.linalg.inv(self._printing_jacobian(film)).T)

    def latent_prior(self, film: str) -> LatentPrior:
        """Law that the frames of a film are drawn from."""
        stock = self._film(film)
        return LatentPrior(mean=stock.mean.copy(), covariance=stock.covariance.copy())

    def reading_for_latent(self, film: str, latent: Floats) -> Floats:
        """(..., 3) noise-free reading of negatives with these dye amounts (..., 3)."""
        return np.asarray(-np.log10(self._film(film).transmittance(np.asarray(latent)) @ self._reader))

    def log_exposure_for_latent(self, film: str, latent: Floats, exposure: Exposure, conditions: Conditions) -> Floats:
        """(..., 3) log exposure without noise; lamp, lot and bath included. ``density_at`` takes it on."""
        return self.light_for_latent(film, latent, exposure) + self._shift(conditions)[0]

    def light_for_latent(self, film: str, latent: Floats, exposure: Exposure) -> Floats:
        """As ``log_exposure_for_latent``, without what lamp, lot and bath add."""
        return self._light_log_exposure(self._film(film).transmittance(np.asarray(latent)), exposure)

    def shift(self, conditions: Conditions) -> Floats:
        """(3,) log exposure that lamp, lot and bath add."""
        return self._shift(conditions)[0].copy()

    def change_prior(self) -> ChangePrior:
        """Laws of what changes in this room."""
        kind, (area, day) = self.kind, self._bath_family()
        common, own = kind.ageing_spread * _FAMILY_SHARE, kind.ageing_spread * _OWN_SHARE
        return ChangePrior(
            lot=_covariance(kind.lot_sd, _LOT_COMMON),
            bath=_covariance(kind.bath_sd, _BATH_COMMON),
            per_area=kind.ageing_per_area * (1 + common * area),
            per_day=kind.ageing_per_day * (1 + common * day),
            per_area_sd=abs(kind.ageing_per_area) * own,
            per_day_sd=abs(kind.ageing_per_day) * own,
            lamp=_covariance(kind.lamp_drift_sd, _LAMP_COMMON),
        )

    def dye_at(self, log_exposure: Floats, conditions: Conditions) -> Floats:
        """(..., 3) print dye amounts of log exposures (..., 3) under these conditions."""
        return self.paper.dye(np.asarray(log_exposure), self._shift(conditions)[1])

    def density_at(self, log_exposure: Floats, conditions: Conditions) -> tuple[Floats, Floats]:
        """True densities and Lab, each (..., 3), of log exposures (..., 3) under these conditions."""
        return self.paper.density_and_lab(self.dye_at(log_exposure, conditions))

    def density_for_latent(
        self,
        film: str,
        latent: Floats,
        exposure: Exposure,
        conditions: Conditions,
    ) -> Floats:
        """(..., 3) true densities for dye amounts (..., 3)."""
        return self.density_at(self.log_exposure_for_latent(film, latent, exposure, conditions), conditions)[0]

    def run_covariance(self) -> Floats:
        """(3, 3) covariance of the run noise [log10 squared]."""
        return _covariance(self.kind.run_sd, self.kind.run_common)

    def patch_covariance(self) -> Floats:
        """(3, 3) covariance of the patch noise [log10 squared], without the dials' and timer's errors."""
        return _covariance(self.kind.patch_sd, self.kind.run_common)

    def right_setting(
        self,
        frame: str,
        conditions: Conditions | None = None,
        *,
        f_number: float = REFERENCE_F_NUMBER,
        magnification: float = REFERENCE_MAGNIFICATION,
    ) -> Exposure:
        """The setting, unrounded and with one filter at 0, that gives the aim exactly if nothing is noisy."""
        negative = self._frame(frame)
        shift = self.shift(conditions or self.conditions())
        return self._right_setting(negative.transmittance, shift, f_number, magnification)

    def right_setting_for_latent(
        self,
        film: str,
        latent: Floats,
        shift: Floats,
        *,
        f_number: float = REFERENCE_F_NUMBER,
        magnification: float = REFERENCE_MAGNIFICATION,
    ) -> Exposure:
        """As ``right_setting``, for dye amounts (3,) and what lamp, lot and bath are believed to add (3,)."""
        transmittance = self._film(film).transmittance(np.asarray(latent))
        return self._right_setting(transmittance, shift, f_number, magnification)

    def _right_setting(self, transmittance: Floats, shift: Floats, f_number: float, magnification: float) -> Exposure:
        aim = -shift - self._geometry(f_number, magnification)
        for zero in range(3):
            found = self._solve(transmittance, aim, zero)
            if found is not None:
                cyan, magenta, yellow, time = found
                return Exposure(
                    cyan=cyan, magenta=magenta, yellow=yellow, time=time, f_number=f_number, magnification=magnification
                )
        raise ValueError("No pack and time of this head give the aim for this negative.")

    def _solve(self, transmittance: Floats, aim: Floats, zero: int) -> tuple[float, float, float, float] | None:
        """Newton's way to (cyan, magenta, yellow, time) with dial ``zero`` at 0; None if a filter falls below 0."""
        # unknowns: the two other dials in hundreds, log10 of time; in place of dial ``zero`` stands the time
        others = [index for index in range(3) if index != zero]
        at = np.append(self.usual.dials, 0.0) / 100
        at[3], at[zero] = math.log10(self.usual.time), 0.0

        def light(point: Floats) -> Floats:
            return self._light(transmittance, 100 * point[:3], 10.0 ** point[3])

        for _ in range(30):
            miss = light(at) - aim
            if np.abs(miss).max() < 1e-9:
                break
            columns = []
            for index in (*others, 3):
                beside = at.copy()
                beside[index] += 1e-5
                columns.append((light(beside) - aim - miss) / 1e-5)
            slopes = np.stack(columns, axis=1)
            if np.linalg.matrix_rank(slopes) < 3:
                return None  # a vane that is all in does no more
            at[[*others, 3]] += np.clip(np.linalg.solve(slopes, -miss), -0.5, 0.5)
        else:
            return None
        if at[others].min() < -1e-9:
            return None
        cyan, magenta, yellow = np.maximum(100 * at[:3], 0.0).tolist()
        return cyan, magenta, yellow, float(10.0 ** at[3])


def _slipped(value: float) -> float:
    """50 read as 05, 5 as 50, 35 as 53."""
    tens, units = divmod(round(value), 10)
    if tens == 0:
        return 10.0 * units
    return 10.0 * units + tens if tens < 10 else 10.0 * tens


def _covariance(sd: float, common: float) -> Floats:
    return sd**2 * (common * np.ones((3, 3)) + (1 - common) * np.eye(3))


def settings_around(middle: Exposure, log_steps: Sequence[float]) -> tuple[Exposure, ...]:
    """Exposures of a strip: the middle one's time changed by these log10 steps."""
    return tuple(replace(middle, time=middle.time * 10.0**step) for step in log_steps)
