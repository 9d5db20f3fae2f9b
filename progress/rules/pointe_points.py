"""What people look at before a student starts pointe work, each point with its source; knows no Django and no student.

Weiss DS, Rist RA, Grossman G (2009) Guidelines for initiating pointe training. J Dance Med Sci 13(3):90-92: its
abstract and opening were read; the words are our own. Which measures lie beside which point is the studio's choice:
the paper names none of ours. Nothing here adds up, weighs or compares, and nothing says what should be decided.
"""
from dataclasses import dataclass

GUIDELINE = "Weiss, Rist and Grossman 2009, J Dance Med Sci 13(3):90–92 (abstract and opening read)."
STUDIO = "The studio’s own question. It is not a point of the guideline."
GROWTH, TRUNK, ALIGNMENT, FEET, TRAINING, PAIN = "growth", "trunk", "alignment", "feet", "training", "pain"


@dataclass(frozen=True)
class Point:
    """One point. `asks`: what is looked at; `adds`: what the source says of it; `at_home`: the same for a family.

    measures: keys of the catalogue's measures that lie beside it.
    """

    key: str
    title: str
    asks: str
    adds: str
    at_home: str
    source: str = GUIDELINE
    measures: tuple[str, ...] = ()


POINTS = (
    Point(
        GROWTH, "Growing", "At what stage of physical development the student is.", "",
        "Where your child is in growing.",
    ),
    Point(
        TRUNK, "Trunk and pelvis", "How well trunk, abdomen and pelvis are controlled.",
        "Where the middle of the body is not stable, the guideline asks for strength first.",
        "How steadily your child holds the middle of the body.", measures=("airplane",),
    ),
    Point(
        ALIGNMENT, "Line of the leg", "How hip, knee, ankle and foot line up.",
        "With poor alignment of the leg the guideline advises against pointe work.",
        "How hip, knee, ankle and foot stand above one another.",
        measures=("landing-control", "rise-control", "one-leg-saute"),
    ),
    Point(
        FEET, "Feet and ankles", "How strong and how mobile feet and ankles are.",
        "Where ankle and foot together do not point far enough, the guideline advises against pointe work; where they "
        "are very mobile, it asks for strength first.",
        "How strong and how mobile your child’s feet and ankles are.",
        measures=("rises", "passe-balance", "eyes-closed-balance", "rise-height", "knee-to-wall", "point-line"),
    ),
    Point(
        TRAINING, "Training", "For how long and how often the student has trained.",
        "The guideline speaks of the fourth year of training for students who began at eight or later, come at least "
        "twice a week, and of whom the other points are true. With class once a week, or training that is not truly "
        "pre-professional, it discourages pointe work. The usual age of twelve, it says, takes four years at an "
        "academy for granted, with four classes a week by then.",
        "For how many years, and how often a week, your child has danced.",
    ),
    Point(
        PAIN, "Pain", "What has hurt, how it ended, and whether the student is back in full class.", "",
        "What has hurt, and how it ended.", source=STUDIO,
    ),
)
BY_KEY = {point.key: point for point in POINTS}
# What the page says of itself.
NO_ANSWER = (
    "Nothing on this page is added up, weighed or compared, and it suggests no answer. No study shows that these "
    "points predict injury. The teacher decides with the family, and with a health professional where there is doubt."
)


def point_of(measure_key: str) -> str:
    """The point beside which a measure lies; one that the catalogue was given later lies beside feet and ankles.

    >>> point_of("airplane"), point_of("a-measure-of-the-studio")
    ('trunk', 'feet')
    """
    return next((point.key for point in POINTS if measure_key in point.measures), FEET)
