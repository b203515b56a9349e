"""The pages of sign-in, of an invitation, and of a password that is given again. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from daemon.access.codes import GROUPS, IN_GROUP
from daemon.access.passwords import FEWEST
from daemon.access.values import Refused
from dashboards.access.carried import Carried
from dashboards.access.local_path import local_path
from dashboards.access.policy import CONFIRM_PATH, SIGN_IN_PATH, WELCOME_PATH
from dashboards.access.typed import Field, FormView, answered

_SECOND = Field(
    "code",
    "Code of your second factor",
    "code",
    "one-time-code",
    hint="Only where you have set one up: the six digits that your authenticator program shows now.",
    required=False,
)
NEW_PASSWORD = Field(
    "new",
    "New password",
    "password",
    "new-password",
    hint=f"At least {FEWEST} characters. Four or five words that have nothing to do with each other are easy to keep.",
)
AGAIN = Field("again", "The new password once more", "password", "new-password")


@dataclass(frozen=True, slots=True)
class EntryView:
    """A page with one form. `further` leads to another one: a text and a path."""

    heading: str
    lines: tuple[str, ...]
    form: FormView
    further: tuple[str, str] | None = None


def sign_in_view(to: str, typed: Mapping[str, str] | None = None, refused: Refused | None = None) -> EntryView:
    """The page of sign-in; `to` is where to go afterwards."""
    fields = (
        Field("name", "Name", autocomplete="username"),
        Field("password", "Password", "password", "current-password"),
        _SECOND,
    )
    form = FormView("sign-in", SIGN_IN_PATH, fields, "Sign in", _hidden(to))
    return EntryView("Sign in", (), answered(form, typed or {}, refused), ("I have an invitation", WELCOME_PATH))


def welcome_view(
    typed: Mapping[str, str] | None = None, refused: Refused | None = None, *, is_first: bool
) -> EntryView:
    """The page for a code: that of the first start, or of an invitation."""
    lines: tuple[str, ...]
    if is_first:
        lines = (
            "Nobody has an account here yet. Make the first one: it is a keeper's, who may change everything.",
            "The code was printed where clutchwarden was started; of a service, journalctl -u clutchwarden shows it.",
            "Another one: clutchwarden access first",
        )
        hint = (
            "A name without spaces, for example mara: you sign in with it, and the journal has it. "
            "Where the site file names you already, take the id that stands there."
        )
    else:
        lines = ("Use the code that a keeper gave you. It sets your password, also where you forgot an old one.",)
        hint = "As the keeper wrote it in the invitation."
    fields = (
        Field(
            "code",
            "Code",
            "invitation",
            hint=f"{GROUPS} groups of {IN_GROUP} signs; small letters will do.",
            missing="Type the code that stands where clutchwarden was started."
            if is_first
            else "Type the code that a keeper gave you.",
        ),
        Field("name", "Name", autocomplete="username", hint=hint),
        NEW_PASSWORD,
        AGAIN,
    )
    form = FormView("welcome", WELCOME_PATH, fields, "Set the password and sign in")
    # What is wrong with the password is said by whoever judges it, which knows it by another name.
    if refused is not None and refused.field == "password":
        refused = Refused(refused.reason, refused.wait_s, NEW_PASSWORD.name)
    further = None if is_first else ("Sign in with a password", SIGN_IN_PATH)
    return EntryView("Welcome", lines, answered(form, typed or {}, refused), further)


def confirm_view(to: str, typed: Mapping[str, str] | None = None, refused: Refused | None = None) -> EntryView:
    """The page that asks for the password again."""
    lines = ("People, contacts and accounts are changed only a short while after you have given your password.",)
    fields = (Field("password", "Your password", "password", "current-password"), _SECOND)
    form = FormView("confirm", CONFIRM_PATH, fields, "Go on", _hidden(to))
    return EntryView("Your password once more", lines, answered(form, typed or {}, refused), ("Back", local_path(to)))


def carrying(view: EntryView, carried: Carried | None) -> EntryView:
    """Let the page take along what somebody had typed when they had to give their password."""
    if carried is None:
        return view
    lines = (
        "Nothing was done yet: too much time has passed since you gave your password. Give it here.",
        "What you typed is kept, and you send it on the next page."
        + (" Passwords, codes and addresses are not: there you type them once more." if carried.again else "")
        + (" A file is not: there you choose it once more." if carried.files else ""),
    )
    return replace(view, lines=lines, form=replace(view.form, hidden=(*view.form.hidden, *carried.hidden)))


def _hidden(to: str) -> tuple[tuple[str, str], ...]:
    wanted = local_path(to)
    return () if wanted == "/" else (("to", wanted),)
