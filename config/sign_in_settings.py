"""Settings of signing in: allauth, its rate limits and the second step."""

LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "apiaries.adapters.ByInvitation"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_SIGNUP_FORM_CLASS = "apiaries.forms.JoinForm"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_ENABLED = True
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_TIMEOUT = 600  # OWASP ASVS 5.0.0, 6.5.5; seconds
ACCOUNT_LOGIN_BY_CODE_ENABLED = True
PASSWORD_RESET_TIMEOUT = 3600  # of the mailed link
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_REAUTHENTICATION_REQUIRED = True  # before an address is added, removed or made the first
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_RATE_LIMITS = {  # beside allauth's own
    # Five in five minutes for one account from one address (allauth's own figures; see apiaries.adapters); a hundred an
    # hour for one account from all addresses (ours: from so many addresses as only somebody with a purpose has).
    "login_failed": "10/m/ip,5/5m/key",
    "login_failed_from_everywhere": "100/h/key",
    "invite": "60/h/user",
    "add_helper": "30/h/user",
    **dict.fromkeys(("import", "export"), "60/h/user"),  # each may take some seconds of a core
    # By address, and generous: a calendar service asks for many members from one.
    "calendar": "300/m/ip",
    "count_entries": "240/m/user",  # a phone sends after each count, and each half minute while some wait
    "visit_entries": "120/m/user",
    "entry_link": "120/h/ip",  # a club house has one address
}
MFA_ADAPTER = "apiaries.second_step_seeds.SealedSeeds"
MFA_FORMS = {
    "activate_totp": "apiaries.forms.second_step.SetUpForm",
    "authenticate": "apiaries.forms.second_step.CodeForm",
    "reauthenticate": "apiaries.forms.second_step.CodeAgainForm",
}
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Recount"
