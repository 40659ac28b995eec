"""An app of the tests of migrate, installed only by them."""
