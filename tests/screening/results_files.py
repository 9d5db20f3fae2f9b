"""Past results as schools keep them, made by code: each with what must become of its results."""
from dataclasses import dataclass

from tests.studio.roster_files import book, lines, ods, sheets, xls

HEAD = "Student,Test,Side,Value,Date"
AMA, ORDER = "Ama Owiredu", ("rises", "balance", "landing")


@dataclass(frozen=True)
class ResultsFile:
    """results: taken; refused: with a reason; file_rows: numbers of the rows of the file that must all be answered."""

    content: bytes
    results: int
    refused: int = 0
    file_rows: int | None = None
    filename: str = "results.csv"


def long(*rows: str, results: int, refused: int = 0, **how) -> ResultsFile:
    return ResultsFile(lines(HEAD, *rows, **how), results, refused, len(rows))


FILES: dict[str, ResultsFile] = {
    "long": long(f"{AMA},rises,left,12,2026-03-10", f"{AMA},rises,right,14,2026-03-10", results=2),
    "semicolons and decimal commas": ResultsFile(lines(
        "Student;Test;Side;Value;Date", f"{AMA};balance;left;12,5;10.03.2026"), 1, 0, 1),
    "German": ResultsFile(lines("Schülerin;Test;Seite;Wert;Datum", f"{AMA};rises;links;12;10. März 2026",
                                encoding="cp1252"), 1, 0, 1),
    "a column for each test": ResultsFile(lines(
        "Student,Date,Rises left,Rises right,Balance left", f"{AMA},2026-03-10,12,14,9.5"), 3, 0, 1),
    "a column for each test, somebody without": ResultsFile(lines(
        "Student,Date,Rises left,Rises right", f"{AMA},2026-03-10,12,14", "Bettina Krall,2026-03-10,,"), 2, 1, 2),
    "both feet in one cell": ResultsFile(lines("Student,Date,Rises L/R", f"{AMA},2026-03-10,12/14"), 2, 0, 1),
    "both feet, one of them blank": ResultsFile(lines("Student,Date,Rises L/R", f"{AMA},2026-03-10,12/-"), 1, 0, 1),
    "both feet under a heading that names none": ResultsFile(lines(
        "Student,Date,Rises", f"{AMA},2026-03-10,12/14"), 0, 1, 1),
    "one number under both feet": ResultsFile(lines("Student,Date,Rises L/R", f"{AMA},2026-03-10,12"), 1, 0, 1),
    "at least": long(f"{AMA},balance,left,45+,2026-03-10", f"{AMA},balance,right,≥30 s,2026-03-10", results=2),
    "reasons": long(f"{AMA},rises,left,absent,2026-03-10", f"{AMA},rises,right,,2026-03-10", results=2),
    "grades in words": long(f"{AMA},landing,left,clean,2026-03-10", results=1),
    "what is no value": long(f"{AMA},rises,left,many,2026-03-10", f"{AMA},rises,right,10-12,2026-03-10",
                             results=0, refused=2),
    "an unknown test": long(f"{AMA},splits,left,12,2026-03-10", results=0, refused=1),
    "dates that cannot be": long(f"{AMA},rises,left,12,2027-03-10", f"{AMA},rises,right,12,soon", results=0, refused=2),
    "no name, no date": long(",rises,left,12,2026-03-10", f"{AMA},rises,left,12,", results=0, refused=2),
    "the same attempt twice": long(f"{AMA},rises,left,12,2026-03-10", f"{AMA},rises,left,13,2026-03-10",
                                   results=1, refused=1),
    "a formula": long(f"{AMA},rises,left,=6+6,2026-03-10", results=0, refused=1),
    "a title above": ResultsFile(lines("Screening days,,,,", HEAD, f"{AMA},rises,left,12,2026-03-10"), 1, 0, 1),
    "a total below": long(f"{AMA},rises,left,12,2026-03-10", "Total,,,1,", results=1, refused=1),
    "workbook": ResultsFile(book(HEAD.split(","), [AMA, "rises", "left", 12, "2026-03-10"]), 1, 0, 1, "r.xlsx"),
    "workbook with a formula never calculated": ResultsFile(
        book(HEAD.split(","), [AMA, "rises", "left", "=SUM(6,6)", "2026-03-10"]), 0, 1, 1, "r.xlsx"),
    "two thousand results": long(
        *(f"Child{n} Pupil,rises,left,{n % 30},2026-03-10" for n in range(2000)), results=2000),
    "attempts": ResultsFile(lines("Student,Test,Side,Attempt,Value,Date", *(
        f"{AMA},rises,left,{n},12,2026-03-10" for n in (1, 2, 3, 9))), 3, 1, 4),
    "units": long(f"{AMA},balance,left,12 sec.,2026-03-10", f"{AMA},rises,left,12 reps,2026-03-10", results=2),
    "a sheet for each day": ResultsFile(sheets({
        "10.03.2026": [["Student", "Rises left", "Rises right"], [AMA, 12, 14]],
        "17.03.2026": [["Student", "Rises left", "Rises right"], [AMA, 13, 14]],
        "Notes": [["To do"], ["call the hall"]]}), 4, 0, 2, "r.xlsx"),
    "a sheet for each day, tests that differ": ResultsFile(xls({
        "10.03.2026": [["Student", "Rises left", "Balance left"], [AMA, 12, 9.5]],
        "17.03.2026": [["Student", "Balance left", "Rises left"], [AMA, 10, 14]]}), 4, 0, 2, "r.xls"),
    "one sheet named by its day": ResultsFile(
        ods({"2026-03-10": [["Student", "Rises L/R"], [AMA, "12/14"]]}), 2, 0, 1, "r.ods"),
    "five thousand results": long(
        *(f"Child{n} Pupil,rises,left,{n % 30},2026-03-10" for n in range(5000)), results=5000),
}
