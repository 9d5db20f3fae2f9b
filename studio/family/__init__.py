"""The family of a student: what it agreed to, and the links by which it reads the student's page."""
