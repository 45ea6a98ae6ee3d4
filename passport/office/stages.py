"""The way from a folder to a worked-out book and a theme, shared by the commands that print figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

from passport.office import desk
from passport.pages.pictures import Ready, ready_picture
from passport.pages.plan import one_of_each, scribes
from passport.pages.render import Renderer, ThemeError, template_problems
from passport.pages.theme import Theme, load_theme
from passport.pages.views import View
from passport.pages.words import MissingWordError
from passport.problems import Problem, errors_in
from passport.reading.folder import read_picture
from passport.reading.shop import Shop
from passport.reading.trees import Trees
from passport.tags.address import read_address
from passport.verdicts.book import Book, work_out
from passport.verdicts.claim_check import theme_problems
from passport.verdicts.public_words import public_problems

OWN_THEME = "theme"
"""A workshop's own theme, beside content/; its files replace those of the built-in one."""


def worked_out(folder: Path, at: date | None, trees: Trees | None = None) -> tuple[Book, tuple[Problem, ...]]:
    """Read and work out a folder; with errors they are printed and the command ends."""
    shop, found = desk.read_records(folder, trees)
    book = work_out(shop, at)
    problems = (*found, *address_errors(shop), *book.problems)
    if errors_in(problems):
        desk.stop(problems)
    return book, problems


def address_errors(shop: Shop) -> tuple[Problem, ...]:
    """What keeps the site's address from standing on a tag."""
    address = read_address(shop.workshop.address, shop.place("workshop", "", "address"))
    return (address,) if isinstance(address, Problem) else ()


def themed(folder: Path, shop: Shop) -> tuple[Theme, tuple[Problem, ...]]:
    """The theme in the workshop's languages, and what is wrong with it."""
    own = folder.resolve() / OWN_THEME
    theme, problems = load_theme(shop.workshop.languages, own if own.is_dir() else None)
    return theme, (*problems, *template_problems(theme))


def worded(book: Book, theme: Theme) -> tuple[Problem, ...]:
    """What may not be said in public, or only with a figure: in the records and in the theme's own words."""
    catalogues = {lang: words.entries for lang, words in theme.words.items()}
    own = theme_problems(catalogues, theme.templates, book.shop.workshop, book.today)
    return (*public_problems(book), *own)


def trial_problems(book: Book, theme: Theme) -> tuple[Problem, ...]:
    """What keeps a page of any kind from being printed: one of each is, in every language, and thrown away."""
    renderer = Renderer(theme)
    found: list[Problem] = []
    for scribe in scribes(book, theme, {}):
        try:
            for view in one_of_each(scribe):
                found += _unprinted(renderer, view)
        except MissingWordError as slip:
            found.append(slip.problem)
    return tuple(dict.fromkeys(found))


def _unprinted(renderer: Renderer, view: View) -> list[Problem]:
    try:
        renderer.page(view)
    except ThemeError as slip:
        return [slip.problem]
    return []


MakeReady = Callable[[str, bytes], Ready | Problem]


def pictures_of(
    folder: Path, shop: Shop, make: MakeReady = ready_picture
) -> tuple[Mapping[str, Ready], tuple[Problem, ...]]:
    """The pictures that records name, made fit to publish; what cannot be shown is a problem."""
    content = desk.content_of(folder)
    ready: dict[str, Ready] = {}
    problems: list[Problem] = []
    for name in sorted(shop.photos):
        data = read_picture(content, name)
        made = make(name, data or b"")
        if isinstance(made, Problem):
            problems.append(made)
        else:
            ready[name] = made
    return ready, tuple(problems)
