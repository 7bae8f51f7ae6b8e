"""The cautions that every paper and cut file carries, worded once."""

CAUTIONS = (
    "Not for use without the release of the responsible chassis engineer.",
    "The instructions of the rail maker, the press maker and the peening and coating suppliers, and local rules, "
    "come first.",
)
