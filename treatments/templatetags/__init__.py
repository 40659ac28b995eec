"""Template filters of treatments."""
