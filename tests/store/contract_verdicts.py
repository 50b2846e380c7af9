"""What the store promises about verdicts, limits, settings and contexts."""

import re
from dataclasses import replace
from datetime import date

import pytest

from oiltrend.errors import ChangedMeanwhile, NotThere, StoreError, ValueRefused
from oiltrend.records import Engine
from oiltrend.store import Store, WatchRow
from oiltrend.store.schema import WATCH_SORTS
from tests.store.made import DAY, KIM, ROBIN, furnish, limit

ROWS = (
    WatchRow("E1", "F", "alert", "enough", DAY, car="J-1", owner="Ines", chance=0.2, size=1.4,
             reason_codes=("fixed_level", "trend"), reason_text="lead above", measurand="Pb",
             trend_word="rising", last_sample_date=date(2025, 2, 1), last_meter=81200.0,
             meter_unit="km", awaiting=True, awaited_since=date(2025, 2, 20),
             next_by_meter=90000.0, next_by_date=date(2025, 8, 1), samples=12, context_id=3,
             limits_version=2),
    WatchRow("E2", "F", "alarm", "out_of_date", DAY, size=0.0, samples=2),
    WatchRow("E3", "G", "alert", "little", DAY, owner="Übel_50%", chance=0.3, size=1.1),
    WatchRow("E4", "F", "", "little", DAY),
    WatchRow("E5", "F", "no_alarm", "enough", DAY, size=0.4, samples=7),
    WatchRow("E6", "F", "alert", "enough", DAY, chance=0.2, size=1.6),
)


def put(store: Store, *rows: WatchRow) -> int:
    with store.write(KIM, "assessed") as tx:
        return tx.put_verdicts(rows, lambda engine: f'{{"engine": "{engine}"}}')


def names(found) -> list[str]:
    return [row.engine for row in found[0]]


class WatchContract:
    @pytest.fixture
    def watched(self, store: Store) -> Store:
        furnish(store, *(row.engine for row in ROWS))
        assert put(store, *ROWS) == len(ROWS)
        return store

    def test_rows_come_back_as_they_went_in(self, watched: Store):
        rows, total = watched.watch_rows(sort="engine")
        assert (tuple(rows), total) == (ROWS, len(ROWS))
        assert watched.watch_document("E3") == '{"engine": "E3"}'

    def test_most_pressing_first(self, watched: Store):
        pressing = ["E2", "E3", "E6", "E1", "E5", "E4"]
        assert names(watched.watch_rows()) == pressing
        assert names(watched.watch_rows(sort="level", descending=True)) == pressing[::-1]

    def test_filters_and_search(self, watched: Store):
        assert watched.watch_rows(family="F", level="alert", limit=1)[1] == 2
        assert names(watched.watch_rows(family="F", level="alert")) == ["E6", "E1"]
        assert names(watched.watch_rows(search="iNES")) == ["E1"]
        assert names(watched.watch_rows(search="ÜBEL")) == ["E3"]
        assert names(watched.watch_rows(search="_50%")) == ["E3"]
        assert names(watched.watch_rows(search="%")) == ["E3"]
        assert watched.watch_rows(search="nobody") == ([], 0)

    @pytest.mark.parametrize("sort", WATCH_SORTS)
    def test_every_sort_goes_both_ways_page_by_page(self, watched: Store, sort):
        def paged(descending):
            return [names(watched.watch_rows(sort=sort, descending=descending, offset=offset,
                                             limit=1))[0] for offset in range(len(ROWS))]
        forward = paged(False)
        assert sorted(forward) == [row.engine for row in ROWS]
        assert paged(True) == forward[::-1]
        if sort not in ("engine", "level"):
            def key(row):
                value = getattr(row, sort)
                return (value is not None, str(value) if isinstance(value, date) else value)
            keys = [key(next(row for row in ROWS if row.engine == name)) for name in forward]
            assert keys == sorted(keys)

    def test_sorting_by_something_else(self, watched: Store):
        with pytest.raises(StoreError, match=re.escape(
                "list: must be sorted by one of its columns, found 'document; --'; use one of "
                "engine, family, car, owner, level, chance, size, last_sample_date, last_meter, "
                "next_by_date, next_by_meter, samples")):
            watched.watch_rows(sort="document; --")

    def test_a_level_that_does_not_exist(self, watched: Store):
        with pytest.raises(StoreError, match=re.escape(
                "level: must be one of '', 'no_alarm', 'alert', 'alarm', found 'fine'; "
                "use one of them")):
            watched.watch_rows(level="fine")
        with pytest.raises(StoreError, match=re.escape(
                "data: must be one of 'enough', 'little', 'out_of_date', found 'plenty'; "
                "use one of them")):
            put(watched, replace(ROWS[0], data="plenty"))

    def test_the_log_takes_what_says_something_new(self, watched: Store):
        assert put(watched, *ROWS) == 0
        assert put(watched, replace(ROWS[0], samples=13, as_of=date(2025, 4, 1))) == 0
        assert watched.watch_rows(sort="engine")[0][0].samples == 13
        assert put(watched, replace(ROWS[0], level="alarm")) == 1
        assert put(watched, replace(ROWS[0], level="alarm", data="little")) == 1
        assert put(watched, replace(ROWS[0], level="alarm", data="little",
                                    reason_codes=("trend",))) == 1
        log = watched.verdict_log("E1")
        assert [(v.level, v.data, v.reason_codes) for v in log] == [
            ("alarm", "little", ("trend",)), ("alarm", "little", ("fixed_level", "trend")),
            ("alarm", "enough", ("fixed_level", "trend")),
            ("alert", "enough", ("fixed_level", "trend"))]
        assert (log[3].document, log[3].limits_version, log[3].context_id, log[3].as_of) == (
            '{"engine": "E1"}', 2, 3, DAY)

    def test_verdicts_move_their_own_counter(self, watched: Store):
        data, watch = watched.data_version(), watched.watch_version()
        put(watched, ROWS[0])
        assert (watched.data_version(), watched.watch_version()) == (data, watch + 1)

    def test_engines_leave_the_list(self, watched: Store):
        with watched.write(KIM, "test") as tx:
            tx.drop_verdicts(["E2"])
            gone = tx.get(Engine, "E5")
            tx.remove(Engine, gone.id, gone.rev)
        assert names(watched.watch_rows(sort="engine")) == ["E1", "E3", "E4", "E6"]
        assert len(watched.verdict_log("E2")) == 1
        with pytest.raises(NotThere, match=re.escape(
                "verdict: must be of an engine that was assessed, found 'E2'; "
                "assess the engine first")):
            watched.watch_document("E2")

    def test_a_verdict_is_about_an_engine(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "engine: must be one that the store has, found 'E1'; add the engine first")):
            put(store, ROWS[0])

    def test_a_renamed_engine_keeps_its_log(self, watched: Store):
        engine = watched.get(Engine, "E1")
        with watched.write(KIM, "renamed") as tx:
            tx.save(engine.id, Engine("E-001", "F"), engine.rev)
        assert len(watched.verdict_log("E-001")) == 1
        assert watched.watch_document("E-001") == '{"engine": "E1"}'


class LimitContract:
    def test_no_limits_yet(self, store: Store):
        assert (store.limits(), store.limit_versions()) == ([], [])

    def test_a_new_set_leaves_the_old_one_to_be_read(self, store: Store):
        with store.write(KIM, "start") as tx:
            first = tx.set_limits([limit(30.0), limit(15.0, level="alert")], "handbook")
        with store.write(ROBIN, "after the second seizure") as tx:
            second = tx.set_limits([limit(20.0)], "lower", based_on=first)
        assert store.limits() == store.limits(version=second) == [limit(20.0)]
        assert store.limits(version=first) == [limit(30.0), limit(15.0, level="alert")]
        assert [(v.id, v.state, v.made_by, v.note) for v in store.limit_versions()] == [
            (second, "current", "Robin", "lower"), (first, "past", "Kim", "handbook")]
        told = {e.field: (e.old and e.old["value"], e.new and e.new["value"])
                for e in store.audit(object="limit", object_id=second)}
        assert told == {"F Pb level alarm >": (30.0, 20.0), "F Pb level alert >": (15.0, None)}

    def test_a_trial_changes_nothing_in_force(self, store: Store):
        with store.write(KIM, "test") as tx:
            tx.set_limits([limit(30.0)], "own")
            trial = tx.set_limits([limit(5.0)], "what if", trial=True)
        assert store.limits() == [limit(30.0)]
        assert store.limits(version=trial) == [limit(5.0)]
        assert [v.state for v in store.limit_versions()] == ["trial", "current"]

    def test_two_who_set_limits_at_once(self, store: Store):
        with store.write(KIM, "test") as tx:
            first = tx.set_limits([limit(30.0)], "own")
        with store.write(ROBIN, "test") as tx:
            tx.set_limits([limit(20.0)], "Robin's", based_on=first)
        with pytest.raises(ChangedMeanwhile, match="limits: must be changed from its present "
                           r"version 2, found version 1; it was changed by Robin on .* UTC; look "
                           "at the present version first"), store.write(KIM, "test") as tx:
            tx.set_limits([limit(10.0)], "Kim's", based_on=first)

    def test_two_limits_about_the_same(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "limits: each must be about something else, found two for 'F Pb level alarm >'; "
                "leave one of them out")), store.write(KIM, "test") as tx:
            tx.set_limits([limit(30.0), limit(31.0)], "x")

    def test_low_and_high_may_stand_side_by_side(self, store: Store):
        band = [limit(12.0, measurand="KV100", operator="<"), limit(17.0, measurand="KV100")]
        with store.write(KIM, "test") as tx:
            tx.set_limits(band, "grade")
        assert store.limits() == band

    def test_a_version_that_was_never_set(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "limits: must be a version that was set, found no. 7; "
                "see the history of the limits")):
            store.limits(version=7)


class SettingContract:
    @pytest.mark.parametrize("value", ["µ", 3, 0.1, None, True, [1, "a"], {"k": [None, 2.5]}])
    def test_settings_come_back(self, store: Store, value):
        assert store.setting("s", "default") == "default"
        with store.write(KIM, "test") as tx:
            tx.set_setting("s", 0)
            tx.set_setting("s", value)
            assert tx.setting("s", "default") == value
        assert store.setting("s", "default") == value
        entry = store.audit(object="setting")[0]
        assert (entry.field, entry.old, entry.new) == ("s", 0, value)

    def test_a_setting_that_json_does_not_know(self, store: Store):
        with pytest.raises(ValueRefused, match=re.escape(
                "s: must hold JSON values only, found one that is none (Out of range float "
                "values are not JSON compliant") + ".*; write unknown numbers as None"), \
                store.write(KIM, "test") as tx:
            tx.set_setting("s", float("nan"))

    def test_the_newest_context_of_a_kind(self, store: Store):
        assert store.context("population") is None
        version = store.data_version()
        with store.write(KIM, "test") as tx:
            tx.put_context("population", {"n": 1})
            second = tx.put_context("population", {"n": 2, "low": None})
            tx.put_context("other", {})
        found = store.context("population")
        assert (found.id, found.kind, found.document) == (second, "population",
                                                         {"n": 2, "low": None})
        assert store.data_version() == version
