"""What the pages say about adding, correcting and voiding a purchase or a disposal.

Whole sentences for each: most languages cannot put one noun for another into the same sentence.
"""

from apiaries.language import mark, say

_WORDS = {
    ("purchase", "add"): mark("Add a purchase"),
    ("purchase", "save"): mark("Save purchase"),
    ("purchase", "saved"): mark("Purchase saved."),
    ("purchase", "correct"): mark("Correct a purchase"),
    ("purchase", "corrected"): mark("Purchase corrected. The old one stays to be seen, struck through."),
    ("purchase", "void"): mark("Void a purchase"),
    ("purchase", "void_this"): mark("Void this purchase"),
    ("purchase", "voided"): mark("Purchase voided. It stays to be seen, struck through."),
    ("disposal", "add"): mark("Add a disposal"),
    ("disposal", "save"): mark("Save disposal"),
    ("disposal", "saved"): mark("Disposal saved."),
    ("disposal", "correct"): mark("Correct a disposal"),
    ("disposal", "corrected"): mark("Disposal corrected. The old one stays to be seen, struck through."),
    ("disposal", "void"): mark("Void a disposal"),
    ("disposal", "void_this"): mark("Void this disposal"),
    ("disposal", "voided"): mark("Disposal voided. It stays to be seen, struck through."),
}


def kept_words(noun: str, what: str) -> str:
    """What is said of a purchase or a disposal: kept_words("purchase", "saved")."""
    return say(_WORDS[noun, what])
