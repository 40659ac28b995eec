"""Pages: gate, form, one action, redirect."""
