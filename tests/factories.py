"""Makes the rows of an invented studio; knows no story."""
import datetime as dt

import factory
from factory.django import DjangoModelFactory

from screening.models import Battery, BatteryMeasure, Measure, Protocol, Result, Screening
from studio.models import ClassGroup, Enrolment, Guardian, Stage, Student, Term, User


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User
        django_get_or_create = ["username"]

    username = factory.Sequence(lambda n: f"teacher{n}")
    name = factory.Sequence(lambda n: f"Teacher {n}")
    role = User.TEACHER


class StageFactory(DjangoModelFactory):
    class Meta:
        model = Stage
        django_get_or_create = ["key"]

    key = "pre-pointe"
    name = factory.SelfAttribute("key")


class TermFactory(DjangoModelFactory):
    class Meta:
        model = Term
        django_get_or_create = ["name"]

    name = "Spring term"
    starts_on = dt.date(2026, 1, 5)
    ends_on = factory.LazyAttribute(lambda term: term.starts_on + dt.timedelta(days=89))


class ClassGroupFactory(DjangoModelFactory):
    class Meta:
        model = ClassGroup
        django_get_or_create = ["name"]

    name = factory.Sequence(lambda n: f"Class {n}")


class StudentFactory(DjangoModelFactory):
    class Meta:
        model = Student

    name = factory.Sequence(lambda n: f"Pupil Number{n}")
    birth_on = factory.Faker("date_between_dates", date_start=dt.date(2013, 1, 1), date_end=dt.date(2015, 12, 31))
    stage = factory.SubFactory(StageFactory)
    training_since_year = factory.Faker("random_int", min=2020, max=2023)
    classes_per_week = factory.Faker("random_int", min=2, max=4)
    dominant_foot = factory.Faker("random_element", elements=["L", "R", "R"])


class GuardianFactory(DjangoModelFactory):
    class Meta:
        model = Guardian

    name = factory.Sequence(lambda n: f"Guardian Number{n}")
    email = factory.Sequence(lambda n: f"guardian{n}@example.org")


class EnrolmentFactory(DjangoModelFactory):
    class Meta:
        model = Enrolment

    student = factory.SubFactory(StudentFactory)
    class_group = factory.SubFactory(ClassGroupFactory)
    term = factory.SubFactory(TermFactory)
    joined_on = factory.SelfAttribute("term.starts_on")


class MeasureFactory(DjangoModelFactory):
    class Meta:
        model = Measure
        django_get_or_create = ["key"]

    key = "rises"
    name = "Rises, one foot"
    short_name = "rises"
    kind = Measure.COUNT
    unit = "rises"
    score_rule = Measure.LAST
    hard_low, hard_high, soft_low, soft_high = 0, 200, 0, 75
    typical_error, typical_error_other, typical_gain = 2.4, 3.0, 0.65


class ProtocolFactory(DjangoModelFactory):
    class Meta:
        model = Protocol
        django_get_or_create = ["measure", "version"]

    measure = factory.SubFactory(MeasureFactory)
    version = 1
    short_name = "heel to the string, 60 beats"
    instruction = "Two fingers on the barre."
    stop_rule = "Two misses: stop."


class BatteryFactory(DjangoModelFactory):
    class Meta:
        model = Battery
        django_get_or_create = ["key"]
        skip_postgeneration_save = True

    key = "barre-check"
    name = "Barre check"

    @factory.post_generation
    def with_measures(self, create, extracted, **kwargs):
        for position, measure in enumerate(extracted or ()):
            BatteryMeasure.objects.create(battery=self, measure=measure, position=position)


class ScreeningFactory(DjangoModelFactory):
    class Meta:
        model = Screening

    class_group = factory.SubFactory(ClassGroupFactory)
    term = factory.SubFactory(TermFactory)
    battery = factory.SubFactory(BatteryFactory)
    held_on = dt.date(2026, 3, 24)


class ResultFactory(DjangoModelFactory):
    class Meta:
        model = Result

    screening = factory.SubFactory(ScreeningFactory)
    student = factory.SubFactory(StudentFactory)
    measure = factory.SubFactory(MeasureFactory)
    protocol = factory.SubFactory(ProtocolFactory, measure=factory.SelfAttribute("..measure"))
    side = "L"
    value = 14
    taken_on = factory.SelfAttribute("screening.held_on")
