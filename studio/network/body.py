"""How much may be sent to this house at once; knows no Django and no server."""

# A list may have five megabytes (studio.sheets.cells.MAX_BYTES); up to this, one that has more is told so beside its
# field, and it lies in memory only.
LARGEST_BODY = 12 * 1024 * 1024
# Whoever is nobody yet sends a name and a password, a PIN or a birth date.
LARGEST_BODY_OF_NOBODY = 64 * 1024
