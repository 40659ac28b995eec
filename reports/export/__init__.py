"""Everything a person may see, as files that leave, and what a keeper brings back from them."""
