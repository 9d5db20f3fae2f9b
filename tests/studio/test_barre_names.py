"""Two students of one name are told apart wherever they stand in a row: by surname's letter, then by year of birth."""
import datetime as dt

import pytest

from studio.models import Student
from studio.queries import barre_names


@pytest.mark.parametrize(("students", "names"), [
    ([("Ama Owiredu", 2014), ("Bettina Krall", 2014)], ["Ama", "Bettina"]),
    ([("Ama Owiredu", 2014), ("Ama Krall", 2014), ("Bo Li", 2013)], ["Ama O.", "Ama K.", "Bo"]),
    ([("Ama Owiredu", 2014), ("Ama Osei", 2013)], ["Ama O. 2014", "Ama O. 2013"]),
    ([("Ama Owiredu", 2014), ("Ama Osei", None)], ["Ama O. 2014", "Ama O."]),
    ([("Ama Owiredu", 2014), ("Ama Osei", 2014)], ["Ama Owiredu 2014", "Ama Osei 2014"]),
    ([("Noor", 2014), ("Noor", 2012)], ["Noor 2014", "Noor 2012"]),
    ([("Mei Lin", 2014), ("Mei Lin", 2015), ("Mei Tan", 2014)], ["Mei L. 2014", "Mei L. 2015", "Mei T."]),
])
def test_namesakes_carry_what_tells_them_apart(students, names):
    rows = [
        Student(pk=at, name=name, birth_on=year and dt.date(year, 5, 1)) for at, (name, year) in enumerate(students)
    ]
    assert list(barre_names(rows).values()) == names


def test_a_call_name_tells_apart_by_itself():
    rows = [Student(pk=1, name="Ama Owiredu"), Student(pk=2, name="Ama Osei", called="Amy")]
    assert list(barre_names(rows).values()) == ["Ama", "Amy"]
