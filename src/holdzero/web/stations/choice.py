"""Choice: which candidate holds, and the cheapest that does."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Response

from holdzero.case.alone import alone_json
from holdzero.case.decide import decide
from holdzero.chart.fit import fit_picture
from holdzero.chart.of_choice import choice_pictures
from holdzero.compute.choose import Decision, choice_as_json
from holdzero.errors import InputError
from holdzero.tell.acts import candidate_taken
from holdzero.tell.choice import headline
from holdzero.web import requirement
from holdzero.web.by_field import SelfSaving, Sent, save
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import NotWorkedOut
from holdzero.web.forms import Field, FormTexts
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()


def mark(case: OpenCase) -> Mark:
    """Done when a candidate holds; flagged where something is missing or nothing holds."""
    if not case.study.findings:
        return OPEN
    tried = [on_axis for on_axis in case.to_judge if on_axis.tried]
    if len(tried) > 1:
        without = [on_axis.name for on_axis in tried if not (on_axis.choice and on_axis.choice.choice)]
        return flag(f"no candidate is shown to hold on {' and '.join(without)}") if without else DONE
    if case.missing:
        return flag(f"found {case.missing.found}")
    return DONE if case.choice and case.choice.choice else flag("no candidate is shown to hold")


STATION = Station("Choice", router, mark)


@router.get("/machines/{machine_id}/choice")
@router.get("/machines/{machine_id}/choice.json")
def choice(case: ThisCase, page: ThisPage) -> Response:
    """Which candidate holds, how sure that is, and what it rests on."""
    return _shown(case, page)


@router.post("/machines/{machine_id}/choice")
def change(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Ask something else of the machine, and see what that changes."""
    saved = save(case, sent, SelfSaving(fields=_fields, keep=_keep))
    if saved.answered is None:
        return page.kept(case.href("choice"), saved.notice)
    fields = _fields(saved.case, saved.answered)
    return _shown(saved.case, page, fields=fields, asked_wrong=saved.why, status=saved.status)


@router.post("/machines/{machine_id}/choice/decision")
def take_candidate(
    book: OpenBook,
    case: ThisCase,
    page: ThisPage,
    sensor: Annotated[str, Form()] = "",
    reason: Annotated[str, Form()] = "",
    by: Annotated[str, Form()] = "",
) -> Response:
    """Keep what was decided, by whom and why, with the digests of what it rests on."""
    typed = {"sensor": sensor, "reason": reason, "by": by}
    if case.choice is None:
        return _shown(case, page, status=422)
    try:
        decide(book, case.id, case, sensor=sensor, reason=reason, by=by)
    except InputError as wrong:
        at = "sensor" if wrong.where == "sensor" else "reason"
        errors = {at: f"Needed is {wrong.need}: {wrong.do}."}
        return _shown(case, page, status=422, wrong=errors, deciding=typed)
    return page.to(case.href("choice"), candidate_taken(case.basis.again().decisions[0]))


def _fields(case: OpenCase, texts: FormTexts | None = None) -> list[Field]:
    return requirement.fields(case.kept.document, case.system, texts)


def _keep(case: OpenCase, texts: FormTexts) -> None:
    case.book.change_machine(case.id, requirement.with_texts(case.kept.document, texts, case.system))


def _decisions(case: OpenCase) -> list[tuple[Decision, str]]:
    """Each decision, newest first, and whether what it rests on has changed since."""
    decisions = case.basis.decisions
    return [(decision, decision.standing(case.basis.digests)) for decision in decisions]


def _last_decided(case: OpenCase) -> dict[str, str]:
    """What the form to decide begins with: the decision that stands, else the choice."""
    chosen, decision = case.choice, case.judged.decision if case.choice else None
    if decision is not None:
        return {"sensor": decision.sensor, "reason": decision.reason, "by": decision.by}
    return {"sensor": (chosen.choice if chosen else "") or "", "reason": "", "by": ""}


def _shown(
    case: OpenCase,
    page: ThisPage,
    *,
    fields: list[Field] | None = None,
    status: int = 200,
    wrong: FormTexts | None = None,
    asked_wrong: str = "",
    deciding: dict[str, str] | None = None,
) -> Response:
    if isinstance(case.missing, NotWorkedOut):
        raise case.missing
    chosen = case.choice
    return page(
        "choice.html",
        case,
        data=lambda: _as_json(case),
        status=status,
        choice=chosen and case.asked_otherwise,
        picture=fit_picture(
            chosen, taken=decision.sensor if (decision := case.judged.decision) else "", system=case.system
        )
        if chosen and chosen.candidates
        else None,
        headline=headline(case).removesuffix(".") if chosen else "",
        pictures=[*choice_pictures(chosen, case.study, case.machine, system=case.system).values()]
        if chosen and chosen.candidates
        else [],
        decisions=_decisions(case),
        wrong={"sensor": "", "reason": ""} | (wrong or {}),
        asked_wrong=asked_wrong,
        deciding=deciding or _last_decided(case),
        fields=fields or _fields(case),
    )


def _as_json(case: OpenCase) -> dict[str, Any]:
    """As `holdzero choose --json` has it; where no choice can be made, what is missing."""
    standings = {"standing": case.standing.as_json(), "standings": case.standings.as_json()}
    if case.choice is None:
        return {"missing": str(case.missing)} | standings
    return choice_as_json(case.asked_otherwise) | standings | alone_json(case.judged)
