"""The review before pointe work: the points with what is on record, people's views, and what they decided."""
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions import reviews as actions
from progress.forms.reviews import DecisionForm, OpenReviewForm, PointsForm
from progress.models import PointSeen, Review
from progress.papers import paper
from progress.queries.class_reviews import class_reviews as read_reviews
from progress.queries.reviews import asked_words, own_view, points_asked, review_page
from progress.rules.pointe_points import NO_ANSWER
from studio.family.queries import agreed_scopes
from studio.models import Consent
from studio.pages import show
from studio.permissions import only, reach_agreed_student, reach_class
from studio.queries import term_on


@require_http_methods(["GET", "POST"])
@only("teach")
def review(request: HttpRequest, student_id: int) -> HttpResponse:
    """The points, the present review and those before it; sent, another review is opened."""
    student = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)
    form = OpenReviewForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        actions.open_review(student=student, why=form.cleaned_data["why"], on=request.today, by=request.user)
        return redirect("progress:review", student_id=student.pk)
    page = review_page(student, today=request.today, now=request.now)
    return show(request, "progress/reviews/review.html", {
        "room": "classes", "student": student, "page": page, "form": form, "no_answer": NO_ANSWER,
        "asked": {row.pk: asked_words(row) for row in _decisions(page)}, "sizes": paper.SIZES,
    })


@require_GET
@only("teach")
def class_reviews(request: HttpRequest, class_id: int) -> HttpResponse:
    """Who of a class was reviewed, what waits, and what the next screening may fill in."""
    group, term = reach_class(request, class_id), term_on(request.today)
    return show(request, "progress/reviews/class_reviews.html", {
        "room": "classes", "class_group": group, "term": term, "sizes": paper.SIZES,
        "reviews": read_reviews(group, term, today=request.today, now=request.now),
    })


def _decisions(page):
    for view in (page.present, *page.before):
        if view is not None and view.decision is not None:
            yield from (view.decision, *view.earlier)


# Whose view it is, where it is not the writer's own.
WHOSE = {
    PointSeen.HEALTH: gettext_lazy("a health professional’s view"),
    PointSeen.ANOTHER: gettext_lazy("another teacher’s view"),
}


@require_http_methods(["GET", "POST"])
@only("teach")
def say(request: HttpRequest, review_id: int) -> HttpResponse:
    """One person's view of each point: the writer's own, another teacher's, or a health professional's."""
    review = reach_review(request, review_id)
    agreed, whose = agreed_scopes(review.student, request.now), request.GET.get("whose", PointSeen.TEACHER)
    if whose not in dict(PointSeen.WHOSE) or (whose == PointSeen.HEALTH and Consent.PAIN not in agreed):
        raise Http404
    form = PointsForm(
        request.POST or None, points=points_asked(agreed), whose=whose, today=request.today,
        before=own_view(review, whose, request.user),
    )
    if request.method == "POST" and form.is_valid():
        actions.say_points(
            review=review, said=form.said(), whose=whose, said_by=form.cleaned_data.get("said_by", ""),
            said_on=form.cleaned_data["said_on"], by=request.user,
        )
        messages.success(request, _("Saved."))
        return redirect("progress:review", student_id=review.student_id)
    return show(request, "progress/reviews/say.html", {
        "room": "classes", "student": review.student, "review": review, "form": form, "whose": whose,
        "whose_words": WHOSE.get(whose) or _("the view of %(name)s") % {"name": request.user.name},
    })


@require_http_methods(["GET", "POST"])
@only("teach")
def decide(request: HttpRequest, review_id: int) -> HttpResponse:
    """What people decided, in their words; a change is another decision, and the earlier ones stay."""
    review = reach_review(request, review_id)
    last = review.decisions.last()
    names = ("asked", "names", "decided", "from_on", "conditions", "look_again_on", "for_family")
    before = {name: getattr(last, name) for name in names} if last else {}
    form = DecisionForm(request.POST or None, today=request.today, initial={"decided_on": request.today, **before})
    if request.method == "POST" and form.is_valid():
        actions.decide(review=review, by=request.user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("progress:review", student_id=review.student_id)
    return show(request, "progress/reviews/decide.html", {
        "room": "classes", "student": review.student, "review": review, "form": form, "last": last,
    })


def reach_review(request: HttpRequest, review_id: int) -> Review:
    """The review, if this person reaches the student and the family agreed to measurements; otherwise 404."""
    found = get_object_or_404(Review.objects.select_related("student"), pk=review_id)
    found.student = reach_agreed_student(request, found.student_id, Consent.MEASUREMENTS)
    return found
