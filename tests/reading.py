"""Reads an answer as a person would: the text of a page, or of what is printed."""
import subprocess


def words_of(answer) -> str:
    """The text of an answer; of a PDF what poppler's pdftotext reads in it."""
    content = answer.content
    if answer.headers.get("Content-Type") != "application/pdf":
        return content.decode()
    return subprocess.run(["pdftotext", "-", "-"], input=content, check=True, capture_output=True).stdout.decode()
