"""The words of the table of cautions (fixtures/cautions.csv), marked for the catalogues. Pure.

The table holds the English and is the only place to change it; a test holds these lines against it. Sources are not
translated: they say where to look.
"""

from apiaries.language import mark

SENTENCES = (
    mark(
        "Use only as the label of your country says; where the label and this page differ, the label decides."
    ),
    mark(
        "Wear a half mask with filters for particles and acid gas, tight goggles and acid-proof gloves, "
        "and stand upwind."
    ),
    mark("Do not breathe the vapour: the limit in air for a working day is 1 mg per cubic metre."),
    mark("Breathed in: go to fresh air, sit half upright and get medical help."),
    mark(
        "On the skin: take the clothes off and rinse for at least 15 minutes; in the eyes: rinse with "
        "plenty of water, take lenses out and see a doctor."
    ),
    mark(
        "Swallowed: rinse the mouth, do not make the person vomit, call for help; as little as 5 g has "
        "killed."
    ),
    mark("Weigh the crystals; a spoon is not a measure."),
    mark(
        "Wear acid-proof gloves (PVC, neoprene or nitrile to EN 374), goggles and long sleeves, and open "
        "the pack outdoors, upwind."
    ),
    mark("Do not breathe the fumes: the working-day limit is 5 ppm, and 30 ppm is dangerous to life."),
    mark(
        "Breathed in: fresh air, half upright, medical help even if you feel well, as effects can come "
        "late; on skin or in eyes rinse with plenty of water; swallowed: do not make the person vomit."
    ),
    mark("Do not give it on a hotter day than the label allows: too warm, brood and queens are lost."),
    mark(
        "The pan reaches up to 400 C: keep it at least 2 cm from wax and bees, let it cool, keep water "
        "and a fire blanket near."
    ),
    mark("In hot weather drink, rest in the shade and take the suit off between yards."),
    mark(
        "Connect the heater last and take it off first; keep sparks away from the battery and carry it "
        "upright with the poles covered."
    ),
    mark("Plan on half of a lead battery's rated charge."),
    mark(
        "Many stings, trouble breathing, swelling of the face or faintness: use the adrenaline pen if you "
        "have one and call the emergency number."
    ),
    mark(
        "Tell somebody where you are and when you will be back, and keep a charged phone on you, not in "
        "the car."
    ),
    mark("Honey that was on the hive during a treatment is for people only if the label says so."),
    mark(
        "Write down date, product, amount, supplier, colonies, days of waiting (even when 0) and how long "
        "it lasted, and keep it for as long as your country asks."
    ),
    mark("If you take a medicine of the MAO-inhibitor kind, ask your doctor before handling amitraz."),
    mark("Alcohol burns and its fumes light easily: keep it away from the smoker."),
)
MARKS = (
    mark("published"),
    mark("calculated"),
    mark("common practice, no source"),
)
NOTES = (
    mark("using a product against its label breaks US law; other countries have rules of their own"),
    mark("1 mg/m3 over 8 hours, 2 mg/m3 for a short time (1989 rule, later remanded)"),
    mark(
        "that a quarter teaspoon holds 1 g is common practice; 1.232 ml is 1 g only at a bulk density of "
        "0.81 g/ml; solid crystal at 1.65 g/ml would be 2.03 g"
    ),
    mark("the gloves are published; goggles, sleeves and wind: common practice, no source"),
    mark("temperature and distance are published; water and blanket: common practice, no source"),
    mark("50 to 80 % is commonly quoted"),
    mark("published for formic acid strips in the EU; in general the label decides"),
    mark("EU: 5 years, withdrawal period recorded even when zero"),
)
