"""Says in the studio's words which page a row of the audit names: what its address was called in the URLs."""
from collections.abc import Iterable, Iterator
from functools import cache

from django.urls import URLPattern, URLResolver, get_resolver
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

# Copies that no page gave out -> what somebody who never saw the program would call them.
WITHOUT_A_PAGE = {
    "term-reports": gettext_noop("reports of the whole term"),
    "export_studio": gettext_noop("the whole studio in one file"),
}
Route = URLPattern | URLResolver


def called(words: str, *routes: Route) -> list[Route]:
    """The routes, for `urlpatterns`, called so in the audit; a route inside an include may have words of its own."""
    for each in routes:
        each.audit_words = getattr(each, "audit_words", words)
    return list(routes)


def silent(*routes: Route) -> list[Route]:
    """The routes, for `urlpatterns`, about nobody that a page or a browser asks for by itself: no row of the audit."""
    for each in routes:
        each.is_silent = True
    return list(routes)


def _named(routes: Iterable[Route], namespace: str = "", words: str = "") -> Iterator[tuple[str, URLPattern, str]]:
    """(name, route, its words or those of the include it stands in) of every address."""
    for each in routes:
        own = getattr(each, "audit_words", words)
        if isinstance(each, URLPattern):
            yield f"{namespace}{each.name}", each, own
        else:
            inner = f"{namespace}{each.namespace}:" if each.namespace else namespace
            yield from _named(each.url_patterns, inner, own)


@cache
def pages() -> dict[str, str]:
    """Route -> what it is called, of those that are called anything."""
    return WITHOUT_A_PAGE | {name: words for name, _route, words in _named(get_resolver().url_patterns) if words}


@cache
def silent_pages() -> frozenset[str]:
    return frozenset(
        name for name, route, _words in _named(get_resolver().url_patterns) if hasattr(route, "is_silent")
    )


def page_words(page: str) -> str:
    """ "the student’s results" for "progress:results"; a route about nobody by its own name: "edit term"."""
    words = pages().get(page)
    return _(words) if words else page.partition(":")[2].replace("-", " ") or page
