"""The page's own files."""

from pathlib import Path
from typing import Any

import pytest
from yarl import URL

from driftlead.web.static_files import FOLDER, StaticFiles


@pytest.mark.asyncio
async def test_the_page_and_every_file_of_it_are_there_with_the_right_kind(serve: Any) -> None:
    kinds = {".html": "text/html", ".js": "text/javascript", ".css": "text/css"}
    async with serve() as rig:
        client = rig.client()
        for path in FOLDER.rglob("*.*"):
            name = path.relative_to(FOLDER).as_posix()
            async with client.ask("GET", f"/{name}") as response:
                assert response.status == 200, name
                assert await response.read() == path.read_bytes()
                if path.suffix in kinds:
                    assert response.content_type == kinds[path.suffix]
                    assert response.charset == "utf-8"
        async with client.ask("GET", "/") as page:
            assert await page.read() == (FOLDER / "index.html").read_bytes()


@pytest.mark.asyncio
async def test_a_file_that_has_not_changed_is_not_sent_again(serve: Any) -> None:
    async with serve() as rig:
        client = rig.client()
        async with client.ask("GET", "/") as response:
            tag = response.headers["ETag"]
        async with client.ask("GET", "/", headers={"If-None-Match": tag}) as response:
            assert response.status == 304
            assert await response.read() == b""
        async with client.ask("GET", "/", headers={"If-None-Match": '"old"'}) as response:
            assert response.status == 200


@pytest.mark.parametrize(
    "path",
    [
        *("/../devices.json", "/..%2fserver.py", "/%2e%2e/server.py", "/..\\server.py"),
        *("//etc/passwd", "/./../server.py", "/static/index.html", "/index.html/", "/%00"),
        *("/....//server.py", "/../../../../../../etc/passwd", "/%c0%ae%c0%ae/server.py"),
        *("/openapi.json", "/server.py", "/__init__.py", "/index.html%00.js"),
    ],
)
@pytest.mark.asyncio
async def test_nothing_but_the_page_can_be_had(serve: Any, path: str) -> None:
    async with serve() as rig:
        url = URL(f"{rig.origin}{path}", encoded=True)
        async with rig.client().session.get(url) as response:
            assert response.status in (400, 404)
            assert "root:" not in await response.text()


@pytest.mark.asyncio
async def test_without_a_page_the_api_is_served_all_the_same(serve: Any, tmp_path: Path) -> None:
    assert StaticFiles(tmp_path / "nothing")._files == {}
    async with serve() as rig:
        assert (await rig.client().get("session"))[0] == 200
