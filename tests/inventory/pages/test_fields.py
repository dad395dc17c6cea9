"""Fields and forms: what was typed, what was understood, what is asked, what is kept."""

from datetime import timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest
from django import forms
from django.http import QueryDict
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.utils import timezone
from django.utils.html import escape

from inventory.measure.own import Units
from inventory.models import Book
from inventory.models.access import TECHNICIAN, Access
from inventory.pages.fields.day import DayField
from inventory.pages.fields.quantity import (
    MassField,
    PressureField,
    QuantityField,
    TemperatureField,
    WaterCapacityField,
)
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import BookForm, PlainForm

KEY = "7b0d7c66-3c5e-4a3e-9f39-0d0d0d0d0d0d"


class WeighForm(BookForm):
    gross = MassField(label="Gross on the scale", what="gross mass")
    pressure = PressureField(label="Pressure", required=False, known={"plausible_pa": (1e5, 3e6)})


class HoldForm(BookForm):
    readings = ReadingsField(label="Readings")
    readings.speak(Units(pressure="psi"))


def sent(text: str, form: type[BookForm] = WeighForm) -> BookForm:
    return form(QueryDict(f"key={KEY}&{text}"))


def test_a_unit_in_the_text_wins_over_the_unit_beside_it():
    form = sent("gross=13.482 kg&gross_unit=lb")
    assert form.is_valid()
    assert form.cleaned_data["gross"].mg == 13_482_000


@pytest.mark.parametrize(
    "text", ["gross=1 4", "gross=1 lb 4 oz", "gross=1&gross_oz=4"], ids=["two numbers", "words", "kept from before"]
)
def test_pounds_and_ounces_come_from_one_input(text: str):
    form = sent(f"{text}&gross_unit=lb oz")
    assert form.is_valid()
    assert form.cleaned_data["gross"].mg == 566_990  # 1 lb 4 oz = 20 x 28.349523125 g


def test_below_zero_stands_for_the_minus_that_the_pad_lacks():
    field = TemperatureField(label="Temperature")
    typed = field.widget.value_from_datadict(QueryDict("t=5&t_unit=C&t_below=1"), {}, "t")
    assert field.clean(typed).si == pytest.approx(268.15)


def test_below_atmosphere_reads_a_vacuum():
    field = PressureField(label="Pressure", known={"atmosphere_pa": 100_000.0})
    typed = field.widget.value_from_datadict(QueryDict("p=0.2&p_unit=bar&p_below=1"), {}, "p")
    assert field.clean(typed).si == pytest.approx(80_000.0)


def test_a_bare_water_capacity_takes_the_unit_beside_it():
    field = WaterCapacityField(label="Water capacity")
    typed = field.widget.value_from_datadict(QueryDict("w=12.4&w_unit=L"), {}, "w")
    assert field.clean(typed).si == pytest.approx(0.0124)


def test_two_readings_of_a_text_are_a_question_and_a_button_answers_it():
    form = sent("gross=1,234&gross_unit=kg")
    assert not form.is_valid()
    assert [one.text for one in form["gross"].doubts] == ["1.234 kg", "1234 kg"]
    answered = sent("gross=1,234&gross_unit=kg&gross_reading=1.234 kg")
    assert answered.is_valid()
    assert answered.cleaned_data["gross"].mg == 1_234_000


def test_an_unlikely_pressure_can_be_insisted_on():
    asked = sent("gross=1 kg&pressure=250&pressure_unit=bar")
    assert not asked.is_valid()
    insisted = asked["pressure"].doubts[-1]
    assert insisted.text == "=250 bar"
    form = sent(f"gross=1 kg&pressure=250&pressure_unit=bar&pressure_reading={insisted.text.replace('=', '%3D')}")
    assert form.is_valid()
    assert form.cleaned_data["pressure"].si > 2.5e7


def test_what_was_insisted_on_is_asked_about_again_once_it_is_changed():
    assert sent("gross=1 kg&pressure=250 bar&pressure_sure=250 bar").is_valid()
    assert not sent("gross=1 kg&pressure=260 bar&pressure_sure=250 bar").is_valid()


def test_what_cannot_be_read_stays_as_typed_beside_a_sentence():
    form = sent("gross=heavy&gross_unit=g")
    html = render_to_string("_form.html", {"form": form}, request=RequestFactory().get("/"))
    assert form.status == 422
    assert 'value="heavy"' in html
    assert 'value="g" selected' in html
    assert 'aria-invalid="true"' in html
    assert html.count(escape(form.errors["gross"][0])) == 2  # in the summary and at the field
    assert "maxlength" not in html
    assert "placeholder" not in html


def test_a_quantity_read_before_is_shown_with_its_unit():
    field = MassField(label="Tare", units=("kg", "g"))
    assert field.typed(field.clean("15 lb")).text == "15 lb"
    read = field.clean(field.typed("7.000 kg"))
    assert field.clean(field.typed(read)).mg == 7_000_000


def test_a_pressure_outside_any_workshop_is_read_against_the_standard_atmosphere():
    assert PressureField(label="Pressure").clean("0 bar").si == pytest.approx(101_325.0)


def test_a_workshop_s_atmosphere_reaches_the_field():
    access = Access(book=Book(), slug="highmoor", role=TECHNICIAN, actor="p-1", atmosphere_pa=84_556.0)
    form = WeighForm(QueryDict(f"key={KEY}&gross=1 kg&pressure=0.5 bar"), access=access)
    assert form.is_valid()
    assert form.cleaned_data["pressure"].si == pytest.approx(134_556.0)
    assert PressureField(label="Pressure").known == {}  # the next form starts afresh


class TestReadBack:
    def test_is_needed_when_nothing_was_echoed(self):
        form = sent("gross=13.482&gross_unit=kg")
        assert form.is_valid()
        assert form.needs_read_back()

    def test_is_not_needed_when_the_echo_said_the_same(self):
        form = sent("gross=13.482&gross_unit=kg&seen=gross%3D13482000")
        assert form.is_valid()
        assert not form.needs_read_back()

    def test_is_needed_when_the_echo_said_something_else(self):
        form = sent("gross=13.482&gross_unit=kg&seen=gross%3D1348200")
        assert form.is_valid()
        assert form.needs_read_back()

    def test_always_comes_where_an_act_asks_for_it_until_its_button_is_pressed(self):
        form = sent("gross=13.482&gross_unit=kg&seen=gross%3D13482000")
        assert form.is_valid()
        assert form.needs_read_back(always=True)
        pressed = sent(f"gross=13.482&gross_unit=kg&read_back={form.signature()}")
        assert pressed.is_valid()
        assert not pressed.needs_read_back(always=True)

    def test_comes_again_when_the_values_or_the_facts_of_the_book_changed_meanwhile(self):
        form = sent("gross=13.482&gross_unit=kg")
        assert form.is_valid()
        signature = form.signature(facts=["6.034 kg"])
        other = sent(f"gross=13.483&gross_unit=kg&read_back={signature}")
        assert other.is_valid()
        assert other.needs_read_back(facts=["6.034 kg"])
        same = sent(f"gross=13.482&gross_unit=kg&read_back={signature}")
        assert same.is_valid()
        assert same.needs_read_back(facts=["5.000 kg"])
        assert not same.needs_read_back(facts=["6.034 kg"])


def test_the_key_is_made_by_the_server_and_kept_over_an_error():
    fresh = WeighForm()
    assert UUID(str(fresh["key"].value()))
    wrong = sent("gross=heavy")
    assert str(wrong["key"].value()) == KEY


def test_a_form_without_its_key_gets_a_new_one_and_is_not_taken():
    form = WeighForm(QueryDict("gross=1 kg&key=nonsense"))
    assert not form.is_valid()
    assert UUID(str(form["key"].value()))


def test_the_act_of_a_form_holds_all_that_was_sent_and_no_machinery():
    access = Access(book=Book(), slug="x", role=TECHNICIAN, actor="p-1")
    form = sent("gross=1 kg&seen=gross%3D1000000&csrfmiddlewaretoken=abc&surprise=yes")
    assert form.is_valid()
    act = form.act(access, context="visit 214")
    assert act.key == UUID(KEY)
    assert act.content == {"gross": ["1 kg"], "surprise": ["yes"]}
    again = sent("surprise=yes&gross=1 kg&seen=other")
    assert again.is_valid()
    assert again.act(access, context="visit 214").digest == act.digest


def test_going_back_to_change_judges_nothing_and_keeps_everything():
    form = sent("gross=heavy&change=1")
    assert not form.is_valid()
    assert form.errors == {}
    assert form.status == 200
    assert form["gross"].value().text == "heavy"


class TestReadings:
    ROWS = "readings_rows=2&readings_0_time=0&readings_0_pressure=250&readings_0_temperature=22"

    def test_are_read_with_times_from_the_first(self):
        form = sent(self.ROWS + "&readings_1_time=20&readings_1_pressure=251&readings_1_temperature=23", HoldForm)
        assert form.is_valid(), form.errors
        first, second = form.cleaned_data["readings"]
        assert (first.time_s, second.time_s) == (0.0, 1200.0)
        # 251 psi gauge, the pound-force per square inch of 6,894.757 Pa, above 101,325 Pa
        assert second.pressure.si == pytest.approx(251 * 6_894.757 + 101_325, rel=1e-6)
        assert second.temperature.si == pytest.approx(296.15)

    def test_take_clock_times_over_midnight(self):
        rows = self.ROWS.replace("time=0", "time=23:50")
        form = sent(rows + "&readings_1_time=0:20&readings_1_pressure=251&readings_1_temperature=23", HoldForm)
        assert form.is_valid(), form.errors
        assert form.cleaned_data["readings"][1].time_s == 1800.0

    @pytest.mark.parametrize(
        ("second", "words"),
        [
            ("readings_1_time=&readings_1_pressure=251&readings_1_temperature=23", "Reading 2: enter the time"),
            ("readings_1_time=20&readings_1_pressure=&readings_1_temperature=23", "Reading 2: enter the pressure"),
            ("readings_1_time=0&readings_1_pressure=251&readings_1_temperature=23", "not later"),
            ("readings_1_time=10:35&readings_1_pressure=251&readings_1_temperature=23", "all as clock times"),
            ("", "two readings or more"),
        ],
    )
    def test_that_lack_something_say_which(self, second: str, words: str):
        form = sent(f"{self.ROWS}&{second}", HoldForm)
        assert not form.is_valid()
        assert words in form.errors["readings"][0]

    def test_one_more_reading_adds_a_row_and_judges_nothing(self):
        form = sent(self.ROWS + "&readings_more=1", HoldForm)
        assert not form.is_valid()
        assert form.errors == {}
        html = str(form["readings"])
        assert 'name="readings_rows" value="3"' in html
        assert 'value="250"' in html

    def test_a_made_up_count_of_rows_is_bounded(self):
        assert 'name="readings_rows" value="40"' in str(sent("readings_rows=999", HoldForm)["readings"])


class TestWhen:
    def test_empty_means_now(self):
        assert WhenField().clean("") is None
        form = sent("gross=1 kg")
        assert form.is_valid()
        assert abs(form.occurred - timezone.now()) < timedelta(seconds=5)

    def test_is_read_in_the_workshop_s_zone(self):
        with timezone.override(ZoneInfo("Europe/Berlin")):
            assert WhenField().clean("2025-07-01T10:58").isoformat() == "2025-07-01T10:58:00+02:00"
            assert WhenField().clean("2025-07-01 9:58").hour == 9

    def test_more_than_five_minutes_ahead_is_refused(self):
        with timezone.override("UTC"):
            near, far = (timezone.now() + timedelta(minutes=minutes) for minutes in (3, 8))
            WhenField().clean(near.strftime("%Y-%m-%dT%H:%M"))
            with pytest.raises(forms.ValidationError, match="still to come"):
                WhenField().clean(far.strftime("%Y-%m-%dT%H:%M"))

    @pytest.mark.parametrize("long_ago", ["0001-01-01T00:00", "0001-01-01T00:00+14:00", "1969-12-31 23:59"])
    def test_a_time_before_the_book_can_count_is_refused(self, long_ago):
        with timezone.override("Etc/GMT-2"), pytest.raises(forms.ValidationError, match="too long ago"):
            WhenField().clean(long_ago)

    def test_an_hour_that_the_clocks_skip_is_refused(self):
        with timezone.override(ZoneInfo("Europe/Berlin")), pytest.raises(forms.ValidationError, match="went forward"):
            WhenField().clean("2025-03-30T02:30")

    def test_an_hour_that_comes_twice_is_a_question_with_two_answers(self):
        with timezone.override(ZoneInfo("Europe/Berlin")):
            with pytest.raises(forms.ValidationError, match="twice") as asked:
                WhenField().clean("2025-10-26T02:30")
            first, second = (WhenField().clean(one.text) for one in asked.value.params["choices"])
        assert second - first == timedelta(hours=1)

    @pytest.mark.parametrize(("days", "month"), [("mdy", 3), ("dmy", 4), ("ymd", 4)])
    def test_a_day_in_figures_is_read_in_the_order_of_who_types_it(self, days, month):
        field = WhenField()
        field.speak(Units(days=days))
        with timezone.override("UTC"):
            found = field.clean("3/4/2025 9:58")
            assert (found.month, found.hour) == (month, 9)
            assert field.clean("2025-03-04 9:58").month == 3
            with pytest.raises(forms.ValidationError, match=r"(3/14|14/3)/2026 (2:58.+PM|14:58) \((month|day) first\)"):
                field.clean("3/4/2025")

    def test_what_the_browser_s_control_cannot_show_stays_as_typed(self):
        class Form(forms.Form):
            when = WhenField()

        html = str(Form({"when": "yesterday"})["when"])
        assert 'type="text"' in html
        assert 'value="yesterday"' in html


class DaysForm(PlainForm):
    day = DayField(label="Checked until", required=False)


def with_days(book: Book, days: str, text: str) -> DaysForm:
    return DaysForm({"day": text}, access=Access(book, "here", TECHNICIAN, "p-1", units=Units(days=days)))


@pytest.mark.django_db
@pytest.mark.parametrize(("days", "month"), [("mdy", 3), ("dmy", 4), ("ymd", 4)])
def test_a_day_in_a_form_is_read_in_the_order_of_who_fills_it_in(book, days, month):
    form = with_days(book, days, "3/4/2026")
    assert form.is_valid()
    assert form.cleaned_data["day"].month == month
    assert 'type="date"' in str(with_days(book, days, "2026-03-04")["day"])


@pytest.mark.django_db
def test_a_day_that_cannot_be_stays_as_typed_with_a_sentence(book):
    form = with_days(book, "mdy", "14/3/2026")
    assert form.errors["day"] == [
        "\N{LEFT DOUBLE QUOTATION MARK}14/3/2026\N{RIGHT DOUBLE QUOTATION MARK} would have a month 14: days are read "
        "month first here. Write 3/14/2026 or 2026-03-14 if it is 14 Mar 2026."
    ]
    assert 'type="text"' in str(form["day"])
    assert 'value="14/3/2026"' in str(form["day"])


def test_fields_of_one_form_class_do_not_share_what_a_form_sets():
    one, other = WeighForm(), WeighForm()
    mine = one.fields["gross"]
    assert isinstance(mine, QuantityField)
    mine.echo_url = "/here/"
    assert 'hx-get="/here/"' in str(one["gross"])
    assert "hx-get" not in str(other["gross"])


def test_no_standard_message_of_a_field_comes_through():
    class Form(PlainForm):
        kind = forms.ChoiceField(label="Kind", choices=[("a", "a")])
        day = forms.DateField(label="Day")
        count = forms.IntegerField(label="Count")
        name = forms.CharField(label="VIN", error_messages={"required": "Enter the VIN."})

    form = Form({"kind": "z", "day": "soon", "count": "many", "name": ""})
    said = [str(error) for errors in form.errors.values() for error in errors]
    assert not [words for words in said if "valid" in words or "required" in words]
    assert form.errors["name"] == ["Enter the VIN."]
    assert Form({"kind": "", "day": "", "count": "", "name": ""}).errors["kind"] == ["Choose: kind."]


def test_a_key_typed_by_hand_is_a_key():
    form = WeighForm(QueryDict(f"key={uuid4()}&gross=1 kg"))
    assert form.is_valid()
