"""Single reports out of files and bulletins."""

from datetime import UTC, datetime

import pytest

from advisor.errors import ReportError
from advisor.report import metar

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
A = "METAR ZZZA 100550Z 24008KT 9999 OVC010 02/01 Q1013"
B = "SPECI ZZZB 100555Z 00000KT 0400 FZFG VV001 M02/M02 Q1013"
T = "TAF ZZZA 100500Z 1006/1112 24010KT 9999 OVC010 BECMG 1010/1012 30015G30KT TEMPO 1012/1018 2000 -SN"

# as some military fields send it, without its time of issue
U = "TAF ZZZU 1006/1112 24010KT 9999 OVC010"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (A, [A]),
        (A + "=", [A]),
        (f"{A}=\n{B}=\n", [A, B]),
        (f"{A}= {B}=", [A, B]),
        (f"{A}\n{B}\n", [A, B]),
        (f"{A}\r\n\r\n{B}", [A, B]),
        (f"{B}\n{A}", [B, A]),
        (f"{A} {B}", [A, B]),
        (f"{A}\n{T}\n{B}", [A, T, B]),
        (T.replace(" BECMG", "\n     BECMG").replace(" TEMPO", "\n  TEMPO") + "=", [T]),
        ("METAR ZZZA 100550Z 24008KT 9999\n     OVC010 02/01\n Q1013=", [A]),
        (f"SAXX40 ZZZA 100550\n{A}=", [A]),
        (f"ZCZC ABC123\n\x01123\nSAXX40 ZZZA 100550 COR\n{A}=\nNNNN\n\x03", [A]),
        (f"SAXX40 ZZZA 100550\nMETAR\n{A[6:]}=\nZZZC 100550Z NIL=", [A, "METAR ZZZC 100550Z NIL"]),
        (f"SPXX40 ZZZB 100555\nSPECI\n{B[6:]}=", [B]),
        (f"METAR\n{A[6:]}=\n\nSAXX41 ZZZA 100600\n{A[6:]}", [A, A[6:]]),
        (f"\ufeff{A}", [A]),
        (f"{A} RMK LAST STFD OBS/NXT 231600Z", [f"{A} RMK LAST STFD OBS/NXT 231600Z"]),
        (f"{A} RMK LAST OBS\n  NEXT 231600Z", [f"{A} RMK LAST OBS NEXT 231600Z"]),
        ("METAR COR ZZZA 100550Z 24008KT", ["METAR COR ZZZA 100550Z 24008KT"]),
        ("TAF AMD ZZZA 100500Z 1006/1112 CNL", ["TAF AMD ZZZA 100500Z 1006/1112 CNL"]),
        ("TAF\nTAF AMD ZZZA 100500Z 1006/1112 CNL=", ["TAF AMD ZZZA 100500Z 1006/1112 CNL"]),
        ("METAR\nZZZA 100550Z 24008KT\n9999 OVC010", ["METAR ZZZA 100550Z 24008KT 9999 OVC010"]),
        (f"{U}\n{A}", [U, A]),
        (f"{A} RMK LAST\nSTFD 1006/1112", [f"{A} RMK LAST STFD 1006/1112"]),
        (f"{A} {U}=", [A, U]),
        (f"TAF\n{U[4:]}=\n{U[4:].replace('ZZZU', 'ZZZV')}=", [U, U.replace("ZZZU", "ZZZV")]),
        (
            "TAF ZZZU 1006/1112 24010KT\n  TEMPO 1008/1010 SN\n1012/1014 RA",
            ["TAF ZZZU 1006/1112 24010KT TEMPO 1008/1010 SN 1012/1014 RA"],
        ),
    ],
)
def test_reports_are_found_whatever_stands_around_them(text, expected):
    assert metar.split(text) == expected


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (A, "METAR"),
        (A[6:], "METAR"),
        (B, "SPECI"),
        (T, "TAF"),
        (T[4:], "TAF"),
        ("TAF AMD ZZZA 100500Z", "TAF"),
        ("ZZZA 100500Z 1006/1112 24010KT", "TAF"),
        ("hello", ""),
        ("", ""),
        ("COR ZZZA 100550Z 24008KT", "METAR"),
        (U, "TAF"),
        (U[4:], "TAF"),
    ],
)
def test_the_kind_of_a_report_is_told_from_its_beginning(text, kind):
    assert metar.kind(text) == kind


def test_all_reports_of_a_text_are_read_and_forecasts_passed_over():
    assert [r.station for r in metar.read_all(f"{B}=\n{T}=\n{A}=", now=NOW)] == ["ZZZB", "ZZZA"]


def test_the_order_of_reports_does_not_change_what_each_says():
    assert metar.read_all(f"{A}\n{B}", now=NOW) == metar.read_all(f"{B}\n{A}", now=NOW)[::-1]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n\n",
        "=",
        "\x00\x01\x02\x7fELF",
        "PK\x03\x04\x14\x00\x06",
        "A" * 100_000,
        ("A" * 30_000 + " ") * 3,
        "\ufffd\ufffd\ufffd",
    ],
    ids=["empty", "lines", "end only", "binary", "archive", "letters", "words", "not decodable"],
)
def test_rubbish_is_refused_in_one_clear_line(text):
    with pytest.raises(ReportError) as caught:
        metar.split(text)
    assert "\n" not in str(caught.value)
    assert str(caught.value).isprintable()


def test_rubbish_of_one_line_is_handed_on_and_refused_when_read():
    (text,) = metar.split("this is no report")
    with pytest.raises(ReportError):
        metar.read(text, now=NOW)
