"""The sentence that every shell shows; a module of its own, so that showing it loads nothing else."""

CAUTION = (
    "Evenground is a design aid. A licensed engineer must check every result against the local code "
    "before anything is built or energised."
)
