"""The body of a request to fields and files; files go to the spool, and go with the request."""

from __future__ import annotations

import json
import secrets
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request

from buildlog.errors import InvalidInput
from buildlog.page.sent import Sent, SentFile, plain_file_name

MOST_FILES, MOST_FIELDS, LONGEST_FIELD = 4, 120, 64 * 1024


@asynccontextmanager
async def read(request: Request, spool: Path) -> AsyncIterator[Sent]:
    """What was sent, while its files are there. InvalidInput where it cannot be read."""
    if request.headers.get("content-type", "").partition(";")[0].strip() == "application/json":
        yield _of_json(await request.body())
        return
    place = spool / secrets.token_hex(8)
    try:
        async with request.form(
            max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD
        ) as form:
            yield await run_in_threadpool(_laid_out, list(form.multi_items()), place)
    finally:
        await run_in_threadpool(shutil.rmtree, place, True)


def _of_json(body: bytes) -> Sent:
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise InvalidInput("this is no JSON object")
    return Sent({str(name): _texts(value) for name, value in found.items()})


def _texts(value: Any) -> list[str]:
    many = value if isinstance(value, list) else [value]
    return [one if isinstance(one, str) else json.dumps(one) for one in many]


def _laid_out(items: list[tuple[str, str | UploadFile]], place: Path) -> Sent:
    fields: dict[str, list[str]] = {}
    files: dict[str, list[SentFile]] = {}
    for number, (name, value) in enumerate(items):
        if isinstance(value, str):
            fields.setdefault(name, []).append(value)
        elif value.filename and value.size:
            name_here = plain_file_name(value.filename)
            path = place / str(number) / name_here
            path.parent.mkdir(parents=True)
            with path.open("wb") as file:
                shutil.copyfileobj(value.file, file)
            files.setdefault(name, []).append(SentFile(name_here, path))
    return Sent(fields, files)
