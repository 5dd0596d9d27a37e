"""Answers with a question's result where it comes soon, else with a page that waits and can stop it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput
from optiform.page.asking import Ticket
from optiform.page.desk import Desk
from optiform.page.pages import shown

SOON, LATER = 2.0, 20.0
"""Seconds that a first look waits for an answer, and that a waiting page does."""


def answered(ticket: Ticket, seconds: float) -> Any:
    """Return the answer of a ticket; None where it did not come in time.

    Raises
    ------
    BadInput
        If the question was refused.
    """
    ticket.done.wait(seconds)
    if ticket.faults:
        raise BadInput(ticket.faults)
    return ticket.answer


def known(ticket: Ticket, seconds: float) -> tuple[Any, bool]:
    """Return what is known of a ticket in time, and whether it is the answer; else how far it is.

    Raises
    ------
    BadInput
        If the question was refused.
    """
    ticket.told.wait(seconds)
    answer = answered(ticket, 0.0)
    if answer is not None and not ticket.stopped:
        return answer, True
    return None if ticket.failure else ticket.step, False


def page_of(
    desk: Desk, request: Request, question: Callable[..., Any], *arguments: str
) -> tuple[Any, Response | None]:
    """Return the answer to a question where it is known, else a page that waits or says how the question failed."""
    ticket = desk.ask(question, *arguments, again="again" in request.query_params)
    seconds = LATER if request.headers.get("hx-request") == "true" else SOON
    answer = answered(ticket, seconds)
    if answer is not None:
        return answer, None
    if ticket.failure:
        page = shown(
            desk, request, "sorry.html.j2", 500, heading="No answer", lines=(ticket.failure,), again=True
        )
        return None, page
    place = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    back = place.replace("again=1", "")
    return None, shown(desk, request, "wait.html.j2", step=ticket.step, number=ticket.number, back=back)
