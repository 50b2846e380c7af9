from oiltrend.samplekeys import content_hashes, keys_of
from tests.ingest.reading import counts, known, read

HEAD = "engine,sample_id,sample_date,odometer_km,Fe\n"


def stored(text):
    found = read(text)
    assert found.samples is not None
    return dict(zip(keys_of(found.samples), content_hashes(found.samples), strict=True))


def test_three_equal_rows_are_one_sample_and_two_duplicates():
    assert counts(read(HEAD + "E1,,2024-03-05,81000,12\n" * 3)) == [4, 1, 1, 0, 0, 2, 0]


def test_numbers_written_differently_are_the_same():
    found = read("engine;sample_date;Fe\nE1;2024-03-05;12,0\nE1;2024-03-05;12\n")
    assert counts(found)[5] == 1


def test_two_bottles_of_one_day_have_their_own_numbers():
    found = read(HEAD + "E1,S1,2024-03-05,81000,12\nE1,S2,2024-03-05,81000,99\n")
    assert counts(found) == [3, 1, 2, 0, 0, 0, 0]


def test_one_number_with_two_results_is_a_conflict_on_all_its_rows():
    found = read(HEAD + "E1,S1,2024-03-05,81000,12\nE1,S1,2024-03-05,81000,12\n"
                 "E1,S1,2024-03-06,81000,12\n")
    assert counts(found) == [4, 1, 0, 0, 3, 0, 0]
    assert found.rejects[0].reason == ("the same sample must say the same everywhere; line 3, 4 "
                                       "says something else")


def test_a_number_belongs_to_its_engine():
    found = read(HEAD + "E1,S1,2024-03-05,81000,12\nE2,S1,2024-03-05,81000,99\n")
    assert found.accepted == 2


def test_a_bad_row_does_not_spoil_its_twin():
    found = read(HEAD + "E1,S1,2024-03-05,81000,x\nE1,S1,2024-03-05,81000,12\n")
    assert counts(found) == [3, 1, 1, 0, 1, 0, 0]


def test_held_rows_wait_before_they_are_compared():
    assert counts(read(HEAD + "E9,S1,2024-03-05,81000,12\n" * 2))[3] == 2


def test_what_the_store_has_is_a_duplicate():
    text = HEAD + "E1,S1,2024-03-05,81000,12\nE1,,2024-04-05,82000,13\n"
    found = read(text, store=known(existing=stored(text)))
    assert counts(found) == [3, 1, 0, 0, 0, 2, 0]


def test_what_the_store_has_otherwise_is_a_conflict():
    held = known(existing=stored(HEAD + "E1,S1,2024-03-05,81000,12\n"))
    found = read(HEAD + "E1,S1,2024-03-05,81000,99\nE1,S2,2024-03-05,81000,12\n", store=held)
    assert counts(found) == [3, 1, 1, 0, 1, 0, 0]
    assert found.rejects[0].reason == ("this sample is stored already and says something else "
                                       "there")


def test_the_store_may_answer_by_a_function_that_is_asked_once():
    asked = []
    text = HEAD + "E1,S1,2024-03-05,81000,12\nE1,S2,2024-03-05,81000,12\n"

    def answer(keys):
        asked.append(sorted(keys))
        return stored(text)

    assert counts(read(text, store=known(existing=answer)))[5] == 2
    assert asked == [[("E1", "id", "S1"), ("E1", "id", "S2")]]


def test_the_long_layout_finds_stored_samples_too():
    long = ("engine,sample_id,sample_date,odometer_km,measurand,value\n"
            "E1,S1,2024-03-05,81000,Fe,{}\n")
    held = known(existing=stored(HEAD + "E1,S1,2024-03-05,81000,12\n"))
    assert counts(read(long.format(12), store=held)) == [2, 1, 0, 0, 0, 1, 0]
    assert counts(read(long.format(99), store=held)) == [2, 1, 0, 0, 1, 0, 0]
