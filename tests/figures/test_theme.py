import pytest

from oiltrend.figures.theme import DARK, GRAPH_CONFIG, LIGHT, Theme


def luminance(colour: str) -> float:
    # WCAG 2.2, definition of relative luminance.
    parts = [int(colour[k:k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, contrast ratio


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_text_and_marks_stand_out(theme: Theme) -> None:
    for colour in (theme.ink, theme.soft, theme.line, theme.alert, theme.alarm):
        assert contrast(colour, theme.sheet) >= 4.5


def test_alert_and_alarm_differ_on_a_black_and_white_print() -> None:
    assert contrast(LIGHT.alert, LIGHT.alarm) >= 1.5


def test_no_chart_offers_to_leave_the_house() -> None:
    assert GRAPH_CONFIG["showSendToCloud"] is False
    assert "toImage" in GRAPH_CONFIG["modeBarButtonsToRemove"]
    assert "sendChartToCloud" in GRAPH_CONFIG["modeBarButtonsToRemove"]
