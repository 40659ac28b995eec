"""Forms: they read what was typed, ask about what is odd, and make the value that one action keeps."""

from counts.forms.basics import remembered
from counts.forms.sample import CorrectForm, SampleForm, VoidForm
from counts.forms.yard import YardCountForm

__all__ = ["CorrectForm", "SampleForm", "VoidForm", "YardCountForm", "remembered"]
