"""How a person is forgotten: what becomes of every column that holds words, places or addresses (`registry`), carrying
it out (`wiping`, `erasing`), and what is written down outside the database (`journal`)."""
