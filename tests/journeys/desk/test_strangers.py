"""What comes from outside: strange hosts, strange paths, strange names, strange files."""

import http.client
import zipfile
from contextlib import closing

import pytest

from tests.journeys.desk.conftest import SLOW_MS


def ask(desk, method="GET", path="/", body=None, **headers):
    """A request as any program can make it: status and body."""
    with closing(http.client.HTTPConnection("127.0.0.1", desk.port, timeout=60)) as line:
        line.putrequest(method, path, skip_host="Host" in headers, skip_accept_encoding=True)
        for name, value in headers.items():
            line.putheader(name.replace("_", "-"), value)
        if body is not None and "Content_Length" not in headers:
            line.putheader("Content-Length", str(len(body)))
        line.endheaders(body)
        with line.getresponse() as answer:
            return answer.status, answer.read()


@pytest.mark.parametrize("path", ["/", "/patterns", "/kept/1/picture.png", "/_nicegui/anything"])
def test_a_foreign_host_is_refused(desk, path):
    status, said = ask(desk, path=path, Host="evil.example")
    assert status == 421
    assert b"only to pages of the machine" in said


def test_a_foreign_page_cannot_send_a_file(desk):
    status, _ = ask(desk, "PUT", "/incoming/pattern?name=a.stl", b"solid", Origin="http://evil.example", X_Pourwell="1")
    assert status == 421
    status, _ = ask(desk, "PUT", "/incoming/pattern?name=a.stl", b"solid")
    assert status == 403


@pytest.mark.parametrize(
    "path",
    [
        "/kept/1/..%2f..%2fstore.sqlite3",
        "/kept/../store.sqlite3",
        "/look/x/../../server.py",
        "/fonts/..%2f..%2f__init__.py",
        "/fonts/SourceSansPro-It.otf",
        "/../../etc/passwd",
        "/docs",
        "/openapi.json",
    ],
)
def test_no_path_leads_to_other_files(desk, path):
    status, said = ask(desk, path=path)
    assert status in (404, 422)
    assert b"SQLite format" not in said


def test_three_hundred_megabytes_are_refused_before_they_come(desk):
    status, said = ask(desk, "PUT", "/incoming/pattern?name=big.stl", b"x", X_Pourwell="1", Content_Length="300000000")
    assert status == 413
    assert b"the limit is 256 MB" in said


def test_the_desk_listens_on_this_machine_alone(desk):
    import socket

    names = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, family=socket.AF_INET)} - {"127.0.0.1"}
    for address in names:
        if not address.startswith("127."):
            with pytest.raises(OSError, match=r"refused|timed out|unreachable"):
                socket.create_connection((address, desk.port), timeout=2).close()


def test_script_in_a_file_name_is_a_name(page, band, tmp_path):
    name = "<img src=x onerror=alert(1)>.stl"
    path = tmp_path / name
    path.write_bytes(band.read_bytes())
    page.on("dialog", lambda dialog: page.complaints.append(f"a script ran: {dialog.message}"))
    page.open("/patterns")
    page.get_by_label("Pattern files").set_input_files(str(path))
    page.get_by_role("link", name="img src=x onerror=alert(1)").wait_for(timeout=2 * SLOW_MS)
    page.get_by_role("link", name="img src=x onerror=alert(1)").click()
    field = page.get_by_label("Name", exact=True)
    field.wait_for(timeout=2 * SLOW_MS)
    field.fill("<script>alert(2)</script>")
    page.locator("header [role=status]", has_text="Saved").wait_for()
    page.open("/patterns")
    page.get_by_role("link", name="<script>alert(2)</script>").wait_for()
    assert page.locator("main img[src='x'], main script").count() == 0


def test_a_zip_bomb_is_told_in_a_sentence_and_the_page_goes_on(page, tmp_path):
    path = tmp_path / "bomb.3mf"
    with zipfile.ZipFile(path, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=1) as box:
        with box.open("3D/3dmodel.model", "w") as inner:
            for _ in range(400):
                inner.write(b" " * 1_000_000)
        box.writestr("[Content_Types].xml", "<Types/>")
    page.open("/patterns")
    page.get_by_label("Pattern files").set_input_files(str(path))
    page.get_by_text("bomb.3mf").first.wait_for()
    page.locator(".job", has_text="Not done").wait_for(timeout=3 * SLOW_MS)
    assert "bomb.3mf" in page.locator(".job", has_text="Not done").inner_text()
    page.open("/")
    assert page.get_by_label("Tree on the scale").is_visible()
