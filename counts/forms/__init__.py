"""Forms: they read what was typed, ask about what is odd, and make the value that one action keeps."""

from counts.forms.basics import remembered
from counts.forms.sample import CorrectForm, SampleForm, VoidForm, as_typed
from counts.forms.yard import OneForm, YardCountForm

__all__ = ["CorrectForm", "OneForm", "SampleForm", "VoidForm", "YardCountForm", "as_typed", "remembered"]
