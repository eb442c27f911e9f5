"""The served page: addresses, and what each answers. What is asked goes to the desk; what comes back is shown."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from sowcal.commands.common import said
from sowcal.commands.open_desk import Desk
from sowcal.commands.page import citations, other_names
from sowcal.errors import InputError, NotJudgedError, SowcalError
from sowcal.microclimate import check_together, with_what_ifs
from sowcal.outputs.document import Html, page_parts
from sowcal.outputs.garden_board import garden_board
from sowcal.outputs.garden_document import garden_document
from sowcal.outputs.json_form import json_text
from sowcal.outputs.page import Place, page_text, side_by_side, todays_parts
from sowcal.outputs.page_bench import (
    Bench,
    beside_stopped,
    beside_tools,
    garden_tools,
    log_section,
    place_forms,
    stopped_page,
    tried_list,
    waiting_page,
    what_if_section,
)
from sowcal.outputs.page_script import jobs_data, water_data
from sowcal.outputs.season_document import season_document
from sowcal.year import day_of_year

__all__ = ["Page"]

_ASSETS = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "board.js": "text/javascript",
    "served.js": "text/javascript",
}
_MOST_LETTERS = 100_000  # of a form


class Page:
    """The application, and what it needs to know of the server that runs it.

    Parameters
    ----------
    desk : Desk
    end : callable
        Ends the server.
    """

    def __init__(self, desk: Desk, end: Callable[[], None]):
        self._desk, self._end = desk, end
        self._work: threading.Thread | None = None
        self._failed: tuple[Any, str] | None = None
        posts: dict[str, Callable[[dict[str, str]], dict[str, Any]]] = {
            "/mine": self._star,
            "/log": self._log,
            "/log/undo": self._undo,
            "/place/choose": self._choose,
            "/place/beside": self._beside,
            "/place/describe": self._describe,
            "/garden/begin": self._begin_garden,
            "/garden/move": self._move,
            "/garden/free": self._free,
            "/end": self._ended,
            "/beat": lambda _: {},
        }
        self.app = Starlette(
            routes=[
                Route("/", self._front),
                Route("/favicon.ico", lambda _: Response(status_code=204)),  # browsers ask for one unasked
                Route("/tried", self._tried),
                Route("/today", self._today),
                Route("/water", self._water),
                Route("/record", self._record, methods=["PUT"]),
                Route("/answer/{command}.json", self._answer),
                *[Route(path, self._sent(do), methods=["POST"]) for path, do in posts.items()],
                *[Route(f"/{name}", self._asset(name, kind)) for name, kind in _ASSETS.items()],
            ],
            exception_handlers={SowcalError: _refused},  # type: ignore[dict-item]
        )

    # --- what is shown ---------------------------------------------------------------------------------------------

    @staticmethod
    def _asset(name: str, kind: str) -> Callable[[Request], Response]:
        text = (files("sowcal") / "outputs" / "page_assets" / name).read_text(encoding="utf-8")
        return lambda _: Response(text, media_type=kind)

    def _front(self, _: Request) -> Response:
        """The page; while its first answer is worked out, a page that says so and asks again."""
        try:
            key = self._desk.place_key()
            if self._desk.has_place():
                return HTMLResponse(self._page())
            if self._failed is not None and self._failed[0] == key:
                raise InputError(self._failed[1])
        except SowcalError as problem:
            self._failed = None
            return HTMLResponse(stopped_page(said(problem), place_forms(self._desk.places(), "")))
        self.begin()
        return HTMLResponse(waiting_page("Living through every season of the record, crop by crop: some ten seconds."))

    def begin(self) -> None:
        """Work out the place's answer beside all else, once."""
        if self._work is None or not self._work.is_alive():
            self._work = threading.Thread(target=self._worked_out, daemon=True)
            self._work.start()

    def _worked_out(self) -> None:
        key = None
        try:
            key = self._desk.place_key()
            self._desk.place()
        except SowcalError as problem:
            self._failed = (key, said(problem))

    def _page(self) -> str:
        desk = self._desk
        options, place = desk.options(), self._place_now()
        shown = [line.crop for line in place.chart.crops]
        plan = desk.plan() if desk.garden_word() else None
        bench = Bench(
            place_forms(desk.places(), Path(desk.word).name, desk.second),
            what_if_section(),
            garden_tools(begun=plan is not None, moved=_moved(plan)),
            self._log_section(),
            self._beside_section(),
            desk.done(),
        )
        return page_text(
            [place],
            issued=desk.day,
            sources=citations(options.crop_files, shown),
            start_month=options.first_month,
            garden=plan,
            mine=desk.mine(),
            names=other_names(options.crop_files, shown),
            asked=(options.reliability, options.least_yield),
            bench=bench,
        )

    def _place_now(self) -> Place:
        """The place with its week by what the log knows."""
        place = self._desk.place()
        return place if place.week is None else replace(place, week=self._desk.by_log(place.week))

    def _beside_section(self) -> Html | None:
        try:
            found = self._desk.beside()
        except SowcalError as problem:
            return beside_stopped(said(problem))
        return found and side_by_side(*found, self._desk.options().first_month, beside_tools())

    def _today(self, _: Request) -> Response:
        """Today anew, after a line of the log or a star."""
        place = self._place_now()
        html = todays_parts(place, "p1", self._desk.mine())
        return JSONResponse({"html": html, "jobs": jobs_data(place.week), "done": self._desk.done()})

    def _water(self, request: Request) -> Response:
        told = water_data(*self._desk.water(request.query_params.get("crop", "")))
        return Response(f'{{"water":[{",".join(told)}]}}', media_type="application/json")

    def _log_section(self) -> Html:
        desk = self._desk
        log, season = desk.log(), None
        if log.sown:
            try:
                season = season_document(desk.season())
            except NotJudgedError as problem:
                return log_section(log, self._crops(), desk.day.isoformat(), None, said(problem))
        return log_section(log, self._crops(), desk.day.isoformat(), season)

    def _crops(self) -> list[str]:
        return [line.crop for line in self._desk.place().chart.crops]

    def _tried(self, request: Request) -> Response:
        """Verdicts and dates now, and beside them under the changes that are pressed."""
        changes = request.query_params.getlist("change")
        mine = self._desk.mine()
        if not changes:
            return HTMLResponse("")
        check_together([*self._desk.options().what_ifs, *changes])
        with self._desk.lock:
            says = with_what_ifs(self._desk.weather(), changes).what_ifs
            now, then = self._desk.rated(mine), self._desk.rated(mine, changes)
        return HTMLResponse(tried_list(str(says), now, then))

    def _answer(self, request: Request) -> Response:
        asked = request.query_params
        found = self._desk.answer(request.path_params["command"], asked.getlist("crop"), asked.getlist("change"))
        return Response(json_text(found), media_type="application/json")

    # --- what is changed -------------------------------------------------------------------------------------------

    def _sent(self, do: Callable[[dict[str, str]], dict[str, Any]]) -> Callable[[Request], Any]:
        async def sent(request: Request) -> Response:
            body = await request.body()
            try:
                found = json.loads(body) if len(body) <= _MOST_LETTERS else None
            except (ValueError, RecursionError):
                found = None
            if not isinstance(found, dict) or not all(isinstance(v, str) for v in found.values()):
                raise InputError("what was sent is no form of this page; load it anew")
            return JSONResponse(await run_in_threadpool(do, found))

        return sent

    async def _record(self, request: Request) -> Response:
        data = await request.body()
        if not data:
            raise InputError("the file is empty; choose one with days in it")
        name = await run_in_threadpool(self._desk.bring, request.query_params.get("name", ""), data)
        return JSONResponse({"name": name})

    def _star(self, sent: dict[str, str]) -> dict[str, Any]:
        return {"mine": self._desk.star(sent.get("crop", ""), sent.get("on") == "yes")}

    def _log(self, sent: dict[str, str]) -> dict[str, Any]:
        entries = self._desk.write_down(sent).entries
        line = entries[-1].cells()
        told = ", ".join(c for c in line if c)
        return {
            "said": f"Written down: {told}.",
            "line": "\t".join(line),
            "html": {"log": self._log_section()},
            "log": True,
        }

    def _undo(self, sent: dict[str, str]) -> dict[str, Any]:
        gone = self._desk.take_back(sent.get("line"))
        return {"said": f"Taken back: {gone}", "html": {"log": self._log_section()}, "log": True}

    def _choose(self, sent: dict[str, str]) -> dict[str, Any]:
        self._desk.choose(sent.get("place", ""))
        self.begin()
        return {"said": "Taken.", "reload": True}

    def _beside(self, sent: dict[str, str]) -> dict[str, Any]:
        self._desk.hold_beside(sent.get("place", ""))
        return {"said": "Held beside.", "reload": True}

    def _describe(self, sent: dict[str, str]) -> dict[str, Any]:
        kept = self._desk.describe(sent)
        self.begin()
        return {"said": f"Written: {kept.here}", "reload": True}

    def _begin_garden(self, sent: dict[str, str]) -> dict[str, Any]:
        self._desk.begin_garden(sent)
        return {"said": "Planned.", "reload": True}

    def _move(self, sent: dict[str, str]) -> dict[str, Any]:
        before, after = (day_of_year(sent.get(name, "")) for name in ("from", "to"))
        return self._board(self._desk.move(sent.get("crop", ""), sent.get("way", ""), before, after))

    def _free(self, sent: dict[str, str]) -> dict[str, Any]:
        return self._board(self._desk.free(sent.get("crop", "")))

    def _board(self, came: list[str]) -> dict[str, Any]:
        plan = self._desk.plan()
        told = page_parts(garden_document(plan, self._desk.options().first_month).parts, "garden")
        return {
            "board": garden_board(plan, movable=True, said=came),
            "tools": garden_tools(begun=True, moved=_moved(plan)),
            "told": told,
        }

    def _ended(self, _: dict[str, str]) -> dict[str, Any]:
        self._end()
        return {"said": "sowcal has ended; this window may be closed. All is kept."}


def _moved(plan: Any) -> list[str]:
    return [] if plan is None else list(dict.fromkeys(start.crop for start in plan.garden.starts))


def _refused(_: Request, problem: Exception) -> Response:
    return JSONResponse({"said": said(problem)}, status_code=422)
