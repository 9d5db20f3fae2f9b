"""Whether two names may be the same person's, typed otherwise; knows neither birth dates nor students."""

from studio.sheets.cells import fold

# One slip in a short word, two in a long one (our choice).
SHORT_WORD_CHARS = 5


def may_be_same_name(one: str, other: str) -> bool:
    """True for names that a person should look at side by side: slips, accents, turned round, a name left out.

    >>> may_be_same_name("Zoe Moss", "Zoë Moß"), may_be_same_name("Moss Zoe", "Zoe Moss")
    (True, True)
    >>> may_be_same_name("Anna Maria Li", "Anna Li"), may_be_same_name("Mia Vance", "Mila Vance")
    (True, True)
    >>> may_be_same_name("Mia Vance", "Noa Vance"), may_be_same_name("Ida Holt", "Ada Holm")
    (False, False)
    """
    a, b = fold(one), fold(other)
    if not a or not b:
        return False
    words, others = a.split(), b.split()
    if sorted(words) == sorted(others):
        return True
    shared = set(words) & set(others)
    if len(shared) >= 2 and (shared == set(words) or shared == set(others)):
        return True
    if len(words) != len(others):
        return _slips(a, b, 1) <= 1
    differ = [(x, y) for x, y in zip(words, others, strict=True) if x != y]
    # Slips sit in one word: a name that differs in two is another person's.
    return len(differ) == 1 and _slips(*differ[0], 2) <= (1 if min(map(len, differ[0])) <= SHORT_WORD_CHARS else 2)


def _slips(one: str, other: str, allowed: int) -> int:
    """How many letters are left out, put in, changed or turned round (optimal string alignment), up to a limit."""
    if abs(len(one) - len(other)) > allowed:
        return allowed + 1
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        row = [i]
        for j, against in enumerate(other, start=1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != against))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == against:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        before, last = last, row
    return last[-1]
