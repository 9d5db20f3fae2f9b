"""The ways of coming in, as a dimension of the table of doors: what the owner finds behind each, by each way."""
from tests.doors import DOORS, NOBODY, OPEN

# By password or with a code a person finds what DOORS says; by PIN, an owner is asked for the password before her own
# rooms; where the password was typed long ago, it is asked for before these; whose visit lay idle or whose account
# ended is nobody, and so is whoever holds a family's link.
BY_PASSWORD, BY_CODE, BY_PIN, LONG_AGO, IDLE, ENDED, BY_LINK = (
    "password", "code", "pin", "long ago", "idle", "ended", "link",
)
ASKS_PASSWORD = {
    "progress:student-copy", "progress:erase-student", "progress:term-workbook", "progress:term-results",
    "studio:give-password", "studio:drop-second-factor",
}
OWNERS_ROOMS = {route for route, methods in OPEN.items() if any(status[1] == 403 for status in methods.values())}


def owner_by(way: str, method: str, route: str) -> int:
    """What the owner finds behind a door who came in this way."""
    if way in (IDLE, ENDED, BY_LINK):
        return DOORS[method, route, NOBODY]
    status = DOORS[method, route, "owner"]
    is_asked = way == BY_PIN and route in OWNERS_ROOMS or (
        way == LONG_AGO and route in ASKS_PASSWORD and status != 405)
    return 302 if is_asked else status
