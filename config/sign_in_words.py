"""What the sign-in library says in a tone that is not the site's: its German says du, ours says Sie.

Nobody calls these. Marked here, they stand in our own catalogue, and that one is heard before the library's: Django
reads LOCALE_PATHS last, and the last one wins. What the library's German says well enough is not here.
"""

from apiaries.language import mark

OURS = (
    mark("You cannot remove your primary email address."),
    mark("Please type your current password."),
    mark("You cannot add more than %d email addresses."),
    mark("Too many failed login attempts. Try again later."),
    mark("Your primary email address must be verified."),
    mark("Please select only one."),
    mark("The new value must be different from the current one."),
    mark("Be patient, you are sending too many requests."),
    mark("You must type the same password each time."),
    mark("You must type the same email each time."),
)
