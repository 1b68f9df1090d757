"""The one registry of quality flags: a doubt in a word for the machine and in a sentence for the printer."""

from enum import StrEnum

DOUBTFUL = " Doubtful: "
"""Between what is said in sentences that are kept and what makes it doubtful."""


class Flag(StrEnum):
    """A doubt about a number. The value is its name in files; ``words`` is what the printer reads."""

    # measuring
    CLIPPED = "clipped"
    DUSTY = "dusty"
    NOISY = "noisy"
    UNEVEN = "uneven"
    SMALL_PATCH = "small_patch"
    OUTSIDE_WEDGE = "outside_wedge"
    NO_ERROR_KNOWN = "no_error_known"
    AT_LEAST = "at_least"
    WET = "wet"
    DRIED = "dried"
    ALPHA_DROPPED = "alpha_dropped"
    EIGHT_BITS = "eight_bits"
    NO_PROFILE = "no_profile"
    PROFILE_NOT_USED = "profile_not_used"
    MORE_PAGES = "more_pages"
    NOT_LEVELLED = "not_levelled"
    WEDGE_STEP_LEFT_OUT = "wedge_step_left_out"
    WEDGE_POOR = "wedge_poor"
    WEDGE_COUNT = "wedge_count"
    STEPS_UNSURE = "steps_unsure"
    OTHER_DYES = "other_dyes"
    DRIFTED = "drifted"
    FEW_PATCHES = "few_patches"
    RINGS = "rings"
    POORLY_MATCHED = "poorly_matched"
    # memory and advice
    PRIOR_ONLY = "prior_only"
    USUAL_REPEATS = "usual_repeats"
    ONE_PATCH = "one_patch"
    EXTRAPOLATED = "extrapolated"
    SATURATED = "saturated"
    OUTLIER = "outlier"
    MISREAD = "misread"
    OUTSIDE_COMFORT = "outside_comfort"
    DIALS_END = "dials_end"
    # paper
    MEASURES_DISAGREE = "measures_disagree"
    NOT_MEASURED = "not_measured"
    SHEET_NOT_FOUND = "sheet_not_found"

    # baths
    LAYER_BALANCE = "layer_balance"
    USUAL_CARRY = "usual_carry"
    FEW_CONTROLS = "few_controls"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS: dict[Flag, str] = {
    Flag.CLIPPED: "part of the patch is clipped, so its true density lies beyond what the scan could hold",
    Flag.DUSTY: "dust or scratches were left out of the patch",
    Flag.NOISY: "the patch is rougher than paper should be",
    Flag.UNEVEN: "the light across the scan is uneven",
    Flag.SMALL_PATCH: "the patch is small, so its mean is less certain",
    Flag.OUTSIDE_WEDGE: "the patch is lighter or darker than any step of the wedge",
    Flag.NO_ERROR_KNOWN: "no error bar came with the number; a usual one is assumed",
    Flag.AT_LEAST: "nothing came out right yet, so this is the least it can be",
    Flag.DRIED: "the print was read wet and corrected by your own dry-down",
    Flag.WET: "the print was read or judged wet; it will look different dry",
    Flag.ALPHA_DROPPED: "the file has channels beyond red, green and blue; they were left out",
    Flag.EIGHT_BITS: "the scan has 8 bits a channel, so dark tones are coarse",
    Flag.NO_PROFILE: "the scan names no colour profile; its values mean something only through a wedge in it",
    Flag.PROFILE_NOT_USED: "the colour profile in the scan is of a kind that is not used here; the wedge does its work",
    Flag.MORE_PAGES: "the file holds more than one picture; only the first was read",
    Flag.NOT_LEVELLED: "no blank sheet was scanned, so uneven light of the scanner is still in the numbers",
    Flag.WEDGE_STEP_LEFT_OUT: "a step of the wedge disagrees with the others and was left out",
    Flag.WEDGE_POOR: "the wedge does not fit its stated densities well, so every density from it is less sure",
    Flag.WEDGE_COUNT: "the wedge seems to have more steps than were stated, or to be read one step along, and every "
    "density would be off by a step; count the stated densities and check the boxes on it",
    Flag.STEPS_UNSURE: "the edges between the steps are faint; check the boxes on the picture",
    Flag.OTHER_DYES: "the wedge or chart is of other dyes than the print, so all readings by it may be off alike",
    Flag.DRIFTED: "the scanner has changed since it was characterised; make its profile again",
    Flag.FEW_PATCHES: "the chart has few patches, so colours between them are less sure",
    Flag.RINGS: "there are rings or bands in the patch, such as glass on a smooth surface makes",
    Flag.POORLY_MATCHED: "the two scans could be laid over each other only roughly",
    Flag.PRIOR_ONLY: "nothing has been printed yet that bears on this; it rests on usual figures from memory",
    Flag.USUAL_REPEATS: "how well prints repeat here is still mostly a usual figure",
    Flag.ONE_PATCH: "only one patch was read",
    Flag.EXTRAPOLATED: "this lies outside what has been tried so far",
    Flag.SATURATED: "the patch is nearly white or nearly black, so it says little about exposure",
    Flag.OUTLIER: "this trial disagrees with everything else by more than noise explains",
    Flag.MISREAD: "the prints of this negative agree with each other and not with its reading, which no longer counts; "
    "read the negative again, or look whether it is another one's reading",
    Flag.NOT_MEASURED: "nothing was measured yet",
    Flag.MEASURES_DISAGREE: "the measures disagree by more than their errors explain; measure again",
    Flag.SHEET_NOT_FOUND: "the sheet could not be told from what lies round it, so the whole scan was taken for it, "
    "lid and shadows too; crop the scan to the sheet, or scan it on something dark",
    Flag.OUTSIDE_COMFORT: "no marked stop brings the time into the comfortable range",
    Flag.DIALS_END: "the pack wanted lies beyond the end of a dial; add a loose filter, and log that as another head",
    Flag.LAYER_BALANCE: "the three layers do not follow temperature alike, so contrast and crossover may change",
    Flag.USUAL_CARRY: "carry-in and carry-out were not weighed; usual figures from memory are taken",
    Flag.FEW_CONTROLS: "few control patches were read in this bath, so its wear is mostly a usual figure",
}
