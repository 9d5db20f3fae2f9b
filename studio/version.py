"""The version of Risebook, as people read it out; `CHANGELOG.md` says what each one brought."""
VERSION = "0.2.0"
