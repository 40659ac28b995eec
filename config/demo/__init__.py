"""The demo club: invented people, yards and counts, made by a seeded simulation that calls the real actions."""
