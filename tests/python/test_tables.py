"""The list of codes as a page, and numbers rounded for a report."""

import csv
import html
import pathlib
import re
import subprocess
import sys

import beadchem as bc
import pytest


def test_the_page_of_codes_lists_every_code_once_by_number(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "codes.html"
    run = subprocess.run(
        [sys.executable, "-m", "beadchem", "codes", "--out", str(out)], capture_output=True, text=True, check=True
    )
    cells = re.compile(r"<t[hd][^>]*>(.*?)</t[hd]>")
    body = out.read_text(encoding="utf-8").partition("<tbody>")[2]
    rows = [[html.unescape(cell) for cell in cells.findall(row)] for row in body.splitlines() if row.startswith("<tr>")]
    codes = sorted(bc.codes().values(), key=lambda code: code.number)
    assert rows == [[str(code.number), code.word, code.severity, code.meaning] for code in codes]
    printed = [line.split()[:3] for line in run.stdout.splitlines() if line.lstrip()[:1].isdigit()]
    assert printed == [[str(code.number), code.word, code.severity] for code in codes]
    data = list(csv.reader(bc.CodeTable().to_csv().splitlines()))
    assert [row[:4] for row in data[1:]] == rows


def test_a_page_that_cannot_be_written_is_said(tmp_path: pathlib.Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "beadchem", "codes", "--out", str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1 and "Choose another file." in run.stderr


def test_numbers_are_rounded_by_the_rule_asked_for() -> None:
    assert bc.rounded(2.675) == "2.68" and bc.rounded(0.125) == "0.12" and bc.rounded(-0.5, 0) == "0"
    assert bc.rounded(0.125, 2, "half up") == "0.13" and bc.rounded(-0.5, decimals=0, rule="half up") == "-1"
    for arguments, code, words in [
        ((1.0, 2, "up"), "word.unknown", "half to even, half up"),
        ((1.0, -1), "number.out-of-range", "0 to 17"),
        ((float("nan"),), "number.not-finite", "finite"),
    ]:
        with pytest.raises(bc.BeadchemError) as refused:
            bc.rounded(*arguments)
        assert refused.value.code == code and words in str(refused.value)
