"""What ingredients and published limits are called. The marked words are said where they are shown."""

from apiaries.language import mark, mark_as, say, say_as

INGREDIENT_WORDS = {
    "oxalic_acid": mark("Oxalic acid"),
    "formic_acid": mark("Formic acid"),
    "oxalic_and_formic": mark("Oxalic and formic acid"),
    "thymol": mark("Thymol"),
    "amitraz": mark("Amitraz"),
    "flumethrin": mark("Flumethrin"),
    "tau_fluvalinate": mark("Tau-fluvalinate"),
    "coumaphos": mark("Coumaphos"),
    "hop_beta_acids": mark("Hop beta acids"),
    "drone_brood_removal": mark("Work on the brood"),
    "queen_caging": mark("Work on the brood"),
}
_WITHIN = {
    "oxalic_acid": mark_as("ingredient within a sentence", "oxalic acid"),
    "formic_acid": mark_as("ingredient within a sentence", "formic acid"),
    "oxalic_and_formic": mark_as("ingredient within a sentence", "oxalic and formic acid"),
    "thymol": mark_as("ingredient within a sentence", "thymol"),
    "amitraz": mark_as("ingredient within a sentence", "amitraz"),
    "flumethrin": mark_as("ingredient within a sentence", "flumethrin"),
    "tau_fluvalinate": mark_as("ingredient within a sentence", "tau-fluvalinate"),
    "coumaphos": mark_as("ingredient within a sentence", "coumaphos"),
    "hop_beta_acids": mark_as("ingredient within a sentence", "hop beta acids"),
    "drone_brood_removal": mark_as("ingredient within a sentence", "work on the brood"),
    "queen_caging": mark_as("ingredient within a sentence", "work on the brood"),
}
_LIMIT_WORDS = {
    "between_rounds": mark("Between rounds"),
    "between_treatments_min": mark("Between treatments, at least"),
    "diagnosis": mark("Diagnosis"),
    "dose": mark("Dose"),
    "dose_max": mark("Dose, at most"),
    "honey_limit": mark("Honey limit"),
    "max_temp": mark("Warmest"),
    "max_temp_first_3_days": mark("Warmest in the first 3 days"),
    "min_temp": mark("Coolest"),
    "mite_fall_lasts": mark("Mite fall lasts"),
    "rounds": mark("Rounds"),
    "rounds_max": mark("Rounds, at most"),
    "rounds_tried": mark("Rounds tried"),
    "sealed": mark("Sealed"),
    "stays_in": mark("Stays in"),
    "stays_in_max": mark("Stays in, at most"),
    "strength": mark("Strength"),
    "supers": mark("Supers"),
    "supers_after": mark("Supers back on"),
    "temp": mark("Temperature"),
    "temp_on_day_of_giving": mark("Temperature on the day"),
    "withdrawal": mark("Withdrawal period"),
}


def ingredient_within(ingredient: str) -> str:
    """An ingredient's name as it stands within a sentence, where not every language makes the first letter small."""
    return say_as("ingredient within a sentence", _WITHIN[ingredient])


def limit_words(limit: str) -> str:
    """What a published limit is called, by its name in the file."""
    return say(_LIMIT_WORDS.get(limit, limit.replace("_", " ").capitalize()))
