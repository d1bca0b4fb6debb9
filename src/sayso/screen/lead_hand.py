"""The lead hand's pages: jobs and their reports, figures, learners, procedures with checks, rehearsal.

Read only: nothing here changes a job or a procedure. Every text goes through autoescaping templates.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from sayso.dialogue.step_questions import questions_of
from sayso.procedure import ProcedureError, check, read
from sayso.procedure.drawing import DrawingError, svg
from sayso.procedure.drawing import text as drawn_as_text
from sayso.procedure.model import AskWitness, Procedure
from sayso.record.errors import RecordError
from sayso.record.figures import figures_of
from sayso.record.figures_page import render_page
from sayso.record.hands import names_in, names_of, people_of_jobs
from sayso.record.local_time import minute
from sayso.record.names import without_codes
from sayso.record.opened import opened
from sayso.record.rehearsals import rehearsed_jobs
from sayso.record.report import render
from sayso.record.which_jobs import Wanted
from sayso.screen.browser_rehearsal import LEVELS, Rehearsals
from sayso.shop.progress import progress_of

#: Reports and figures are whole documents with their own style sheet inside; still no script, no outside.
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; media-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

_PAGES = Environment(
    loader=PackageLoader("sayso.screen"),
    autoescape=select_autoescape(default=True),
    undefined=StrictUndefined,
)
_PAGES.filters["when"] = lambda ms: minute(ms) if ms else ""


#: More rows than this make a page slow; the form above them asks for fewer.
MOST_JOBS = 500
#: What may be asked for, in the order of `Wanted`.
_ASKED = ("procedure", "machine", "person", "since", "until")


def _page(template: str, /, **values: Any) -> HTMLResponse:
    return HTMLResponse(_PAGES.get_template(template).render(**values))


def _missing(what: str) -> HTMLResponse:
    """Not a dead end: the way to the other pages stands above it."""
    return HTMLResponse(_PAGES.get_template("missing.html.j2").render(what=what), 404)


def _report(html: str) -> HTMLResponse:
    """A whole document of the record's, with the way back that it lacks on paper."""
    way_back = (
        "<style>@media print { .way-back { display: none } }</style>"
        '<p class="way-back" style="margin:1rem 2rem">'
        '<a style="color:inherit" href="/lead">Jobs and procedures</a></p>'
    )
    html = re.sub(r"(<body[^>]*>)", rf"\1{way_back}", html, count=1)
    return HTMLResponse(html, headers={"content-security-policy": REPORT_POLICY})


def lead_hand_routes(store: str, folder: Path) -> list[BaseRoute]:
    """Routes below /lead. `store` is the record's place, `folder` holds the procedures."""
    in_browser = Rehearsals()

    def procedure_file(name: str) -> Path | None:
        """Only names that the folder really lists: no path can lead elsewhere."""
        return next((f for f in _procedure_files(folder) if f.stem == name), None)

    def in_thread(work: Callable[[Request], Response]) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            try:
                return await run_in_threadpool(work, request)
            except RecordError as error:
                return _missing(str(error))

        return answer

    def overview(request: Request) -> Response:
        asked = {name: request.query_params.get(name, "").strip() for name in _ASKED}
        with opened(store) as record:
            every = record.jobs()
            found = Wanted(*(asked[name] or None for name in _ASKED)).among(record, every)
            jobs = list(reversed(found))[:MOST_JOBS]
            rehearsed = rehearsed_jobs(record)
            people = people_of_jobs(record, every)
            choices = {
                "procedure": sorted({row.procedure for row in every}),
                "machine": sorted({row.machine for row in every if row.machine}),
                "person": names_of(people),
            }
        procedures = [(file.stem, _title(file), _errors_in(file)) for file in _procedure_files(folder)]
        return _page(
            "lead.html.j2",
            jobs=jobs,
            left_out=len(found) - len(jobs),
            in_all=len(every),
            asked=asked,
            choices=choices,
            people={job.job: ", ".join(people[job.job]) for job in jobs},
            rehearsed=rehearsed,
            procedures=procedures,
        )

    def people(_: Request) -> Response:
        with opened(store) as record:
            found = [progress_of(record, name) for name in names_in(record)]
        return _page("people.html.j2", people=found)

    def job_report(request: Request) -> Response:
        with opened(store) as record:
            return _report(render(record, request.path_params["job"]))

    def figures(_: Request) -> Response:
        with opened(store) as record:
            return _report(render_page(figures_of(record)))

    def procedure(request: Request) -> Response:
        file = procedure_file(request.path_params["name"])
        if file is None:
            return _missing("There is no procedure of that name.")
        problems = check(file)
        written = file.read_text("utf-8", errors="replace")  # another encoding is one of the problems
        try:
            found = read(file)
        except ProcedureError:
            found = None
        return _page(
            "procedure.html.j2",
            name=file.stem,
            title=found.title if found else file.stem,
            revision=found.revision if found else "",
            problems=problems,
            outline=drawn_as_text(found) if found else "",
            asked_first=[one.text for of_step in questions_of(found) for one in of_step] if found else [],
            levels=LEVELS,
            text=without_codes(written, _codes_in(written, found)),
        )

    def drawing(request: Request) -> Response:
        file = procedure_file(request.path_params["name"])
        if file is None:
            return _missing("There is no procedure of that name.")
        try:
            return Response(svg(read(file)), media_type="image/svg+xml")
        except (ProcedureError, DrawingError) as error:
            return PlainTextResponse(f"{error}\n", 404)

    async def begin_rehearsal(request: Request) -> Response:
        file = procedure_file(request.path_params["name"])
        if file is None:
            return _missing("There is no procedure of that name.")
        level = str((await request.form()).get("level", "normal"))
        if level not in LEVELS:
            return PlainTextResponse(f"The detail must be one of {', '.join(LEVELS)}.\n", 422)
        try:
            key = await run_in_threadpool(lambda: in_browser.start(read(file), level))
        except ProcedureError as error:
            return PlainTextResponse(f"{error}\n", 409)
        return RedirectResponse(f"/lead/rehearsal/{key}#end", 303)

    async def rehearsal(request: Request) -> Response:
        key = request.path_params["key"]
        if request.method == "POST":
            words = str((await request.form()).get("words", ""))[:200].strip()
            if words:
                await run_in_threadpool(in_browser.say, key, words)
            return RedirectResponse(f"/lead/rehearsal/{key}#end", 303)
        found = in_browser.get(key)
        if found is None:
            return _missing("This rehearsal is over. Begin another.")
        return _page(
            "rehearsal.html.j2",
            key=key,
            title=found.state.procedure.title,
            said=found.said,
            outcome=found.outcome,
        )

    return [
        Route("/lead", in_thread(overview)),
        Route("/lead/job/{job}", in_thread(job_report)),
        Route("/lead/figures", in_thread(figures)),
        Route("/lead/people", in_thread(people)),
        Route("/lead/procedure/{name}", in_thread(procedure)),
        Route("/lead/procedure/{name}/drawing.svg", in_thread(drawing)),
        Route("/lead/procedure/{name}/rehearse", begin_rehearsal, methods=["POST"]),
        Route("/lead/rehearsal/{key}", rehearsal, methods=["GET", "POST"]),
    ]


#: a key of digits in quotes, as codes are written
_QUOTED_CODE = re.compile(r"""["'](\d{3,})["']\s*:""")


def _codes_in(text: str, found: Procedure | None) -> list[str]:
    """The page opens from the one of the running job, where anybody stands."""
    asked = [step.ask for step in found.steps] if found else []
    known = [code for ask in asked if isinstance(ask, AskWitness) for code, _ in ask.codes]
    return known if found else _QUOTED_CODE.findall(text)


def _title(file: Path) -> str:
    try:
        return read(file).title
    except ProcedureError:
        return file.stem


def _errors_in(file: Path) -> int:
    return sum(problem.severity == "error" for problem in check(file))


def _procedure_files(folder: Path) -> list[Path]:
    """Procedures of the folder by name; files of shared steps are left out."""
    found = []
    for file in sorted(folder.glob("*.yaml")):
        with file.open(encoding="utf-8", errors="replace") as lines:
            if any(line.startswith("procedure:") for line in lines):
                found.append(file)
    return found
