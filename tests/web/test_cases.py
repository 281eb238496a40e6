"""The case pages: every page as page and JSON, a case from symptom to cure, the answer as text and PDF."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedwright.catalogue.network import load_network
from feedwright.web.render import HERE

JSON = {"accept": "application/json"}


def begun(client: TestClient, **told: str) -> str:
    """A case opened by the form; its address."""
    page = client.post("/cases/new", data={"answer.strings": "yes", **told})
    assert page.status_code == 200, page.text
    return page.url.path


def test_every_page_answers_as_page_and_as_json(client: TestClient) -> None:
    here = begun(client, machine="Larch", label="<b>vase</b>")
    client.post(here, data={"reading.feed": "91", "tried": "set_reversal"})
    paths = ["/cases", "/cases/new", "/cases/new?machine=Larch", here, f"{here}?asked=clicking+noise",
             f"{here}?asked=xyzzy", f"{here}/end?cure=trim_tube_end", f"{here}/answer",
             "/handbook/causes/liner_gap"]  # fmt: skip
    for path in paths:
        page = client.get(path)
        assert page.status_code == 200, path
        assert "<h1>" in page.text
        assert "<b>vase" not in page.text
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b", page.text), path
        data = client.get(path, headers=JSON)
        assert isinstance(data.json(), dict), path
        assert len(data.content) < 200_000, "a case's JSON does not carry the whole network"


def test_from_symptom_to_cure(client: TestClient) -> None:
    """One symptom; the check is answered; a repair fails, the next cures; what was found is kept."""
    here = begun(client, **{"answer.gaps_after_travel": "yes"})
    assert "Next:" in client.get(here).text
    page = client.post(here, data={"answer.end_ring": "yes", "state": "hot"})
    assert "The tube end does not sit tight on the nozzle" in page.text
    assert client.get(here, headers=JSON).json()["file"]["state"] == "hot"
    page = client.post(here, data={"tried": "trim_tube_end"})
    assert "did not cure it" in page.text
    page = client.post(f"{here}/end", data={"cause": "tube_crept", "note": "it slid by 1 mm"})
    assert "Renew the coupler, and lock it" in page.text
    assert "it slid by 1 mm" in page.text
    assert client.post(here, data={"answer.blobs": "yes"}).status_code == 409


def test_an_own_machine_leads_to_the_service_of_the_part(client: TestClient) -> None:
    here = begun(client, machine="Larch", **{"answer.end_black": "yes", "answer.thin_lines": "yes"})
    client.post(f"{here}/end", data={"cause": "liner_burnt"})
    assert "/machines/Larch/renewal?part=tube_end" in client.get(here).text


def test_without_a_farm_somebody_else_can_still_be_answered(empty_client: TestClient) -> None:
    assert "Something is wrong" in empty_client.get("/cases").text
    assert empty_client.get("/cases/new").status_code == 200
    here = begun(empty_client)
    assert "Next:" in empty_client.get(here).text


def test_the_answer_as_text_and_as_pdf(client: TestClient) -> None:
    here = begun(client, label="Zacharias")
    text = client.get(f"{here}/answer.txt")
    assert text.headers["content-type"].startswith("text/plain")
    assert "WHAT IS LIKELY, AND WHY" in text.text
    assert "Zacharias" not in text.text
    pdf = client.get(f"{here}/answer.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF-")
    assert pdf.content.rstrip().endswith(b"%%EOF")
    assert client.get(f"{here}/answer.doc").status_code == 422


@pytest.mark.parametrize(
    ("data", "named"),
    [
        ({"answer.strings": "perhaps"}, "answer"),
        ({"answer.wings": "yes"}, "observation"),
        ({"reading.feed": "much"}, "feed"),
        ({"reading.feed": "5000"}, "feed"),
        ({"tried": "prayer"}, "repair"),
        ({"state": "lukewarm"}, "state"),
        ({}, "case"),
    ],
)
def test_a_bad_form_is_refused_in_words(client: TestClient, data: dict[str, str], named: str) -> None:
    here = begun(client)
    page = client.post(here, data=data)
    assert 400 <= page.status_code < 500
    assert named in page.text
    assert "What to do" in page.text
    for path in ("/cases/999", "/handbook/causes/wing", "/cases/0/answer"):
        assert client.get(path).status_code == 404, path


def test_every_picture_that_an_entry_names_is_drawn() -> None:
    drawn = (Path(HERE) / "templates" / "_case_pictures.html").read_text()
    for seen in load_network().observations.values():
        if seen.picture:
            assert f'name == "{seen.picture}"' in drawn, seen.picture
    assert sum(bool(seen.picture) for seen in load_network().observations.values()) >= 40


def test_who_tells_it_is_asked_once_and_kept_from_answer_to_answer(client: TestClient) -> None:
    page = client.post("/cases/new", data={"answer.strings": "yes", "person": "Ada"})
    assert page.url.query == b"person=Ada"
    action = re.search(r'<form method="post" action="(/cases/\d+\?person=Ada)"', page.text)
    assert action
    client.post(action[1], data={"answer.clicks": "no"})
    number = action[1].split("?")[0]
    client.post(f"{number}/end", data={"cause": "liner_gap", "person": "Ada"})
    acts = client.get("/books", headers={"accept": "application/json"}).json()
    who = [acts["who"].get(str(line["act"]["person_id"])) for line in acts["acts"][:3]]
    assert who == ["Ada"] * 3
    assert client.post(f"{number}?person=Nobody", data={"answer.blobs": "no"}).status_code >= 400
