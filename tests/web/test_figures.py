"""The figures pages, their tables as files, and the page of one act."""

import re

from starlette.testclient import TestClient

JSON = {"accept": "application/json"}


def test_figures_lead_to_the_records_behind_them_and_these_to_their_act(client: TestClient) -> None:
    page = client.get("/figures")
    assert page.status_code == 200
    assert "What keeping cost" in page.text
    assert "How this is reckoned" in page.text
    data = client.get("/figures", headers=JSON).json()
    assert data["figures"]["whole"]["printed"]["spoiled"] == 1
    assert data["figures"]["work"] == []
    name = data["figures"]["costs"]["part"][0]["name"]
    records = client.get("/figures/records", params={"by": "part", "name": name})
    assert records.status_code == 200
    act = re.search(r'href="(/books/\d+)"', records.text)
    assert act
    assert "It wrote" in client.get(act[1]).text
    assert client.get("/figures/records", params={"by": "part", "name": "Nothing"}).status_code == 404
    assert client.get("/figures?since=soon").status_code == 422 or client.get("/figures?since=soon").status_code == 400


def test_each_table_is_a_file_and_periods_can_be_chosen(client: TestClient) -> None:
    for table in ("served", "machine", "part", "cause"):
        file = client.get(f"/figures/{table}.csv?days=90")
        assert file.headers["content-type"] == "text/csv; charset=utf-8"
        assert "attachment" in file.headers["content-disposition"]
        assert file.text.count("\r\n") >= 2
    assert client.get("/figures/colours.csv").status_code >= 400
    assert "30 days" in client.get("/figures?days=30").text


def test_a_blanket_calendar_is_told_with_how_it_is_reckoned(client: TestClient) -> None:
    page = client.get("/figures/saved")
    assert page.status_code == 200
    assert "as was done" in page.text
    assert "drawn from what the findings have taught" in page.text
    assert "/figures/saved" in client.get("/figures").text
    assert "at least eight weeks" in client.get("/figures?days=30").text
    refused = client.get("/figures/saved?days=20")
    assert refused.status_code >= 400
    assert "choose a longer period" in refused.text


def test_without_a_farm_the_first_steps_are_shown(empty_client: TestClient) -> None:
    assert empty_client.get("/figures").status_code == 200
    assert empty_client.get("/figures/saved").status_code == 200


def test_a_voided_record_has_a_page_that_says_what_took_it_back(client: TestClient) -> None:
    acts = client.get("/books", headers=JSON).json()["acts"]
    run = next(line["act"]["id"] for line in acts if line["act"]["kind"] == "run")
    sheet = client.get(f"/books/{run}", headers=JSON).json()["sheet"]
    number = next(one["number"] for one in sheet["wrote"] if one["table"] == "runs")
    client.post("/void", data={"what": "run", "number": number, "reason": "entered twice", "back": "/books"})
    shown = client.get(f"/books/{run}")
    void = re.search(r'Taken back by <a href="(/books/\d+)"', shown.text)
    assert void
    taken = client.get(void[1])
    assert "entered twice" in taken.text
    assert "It took back" in taken.text
    assert f"run {number}" in taken.text
    assert client.get("/books/9999999").status_code == 404


def test_numbers_of_a_column_stand_under_each_other(client: TestClient) -> None:
    tables = re.findall(r"<table>.*?</table>", client.get("/figures").text, re.DOTALL)
    assert len(tables) == 3
    for table in tables:
        assert "<td>" not in table
    costs = next(table for table in tables if "for each hour" in table)
    shown = re.findall(r'<td class="num">(?:<strong>)?([\d.,]+)', costs)
    assert {len(number.partition(".")[2]) for number in shown[::6]} == {2}
    by_hour = [len(number.partition(".")[2]) for number in shown[1::6]]
    assert len(set(by_hour)) == 1
