"""`--endpoint` switches the event of risk, rates and reasons, and every form of the answer names it."""

import pytest

from regdash import endpoints
from regdash.cli.query import risk
from regdash.endpoints import ENDPOINTS
from tests.cli.asking import one_line, regdash

COMMANDS = ["risk", "rates", "reasons", "compare", "gap"]
GROUPED = {"compare": ["--by", "sex"], "gap": ["--by", "class"]}


# One endpoint of each kind; that each of the others is counted right is proved of the answers themselves.
OF_EACH_KIND = ["any-revision", "without-later-patella", "re-revision", "removed:tibial"]


@pytest.mark.parametrize("key", OF_EACH_KIND)
@pytest.mark.parametrize("command", ["risk", "rates", "reasons"])
def test_an_endpoint_is_answered_and_named(command, key, store):
    answer = regdash(command, "--by", "class", "--endpoint", key, "--json", store=store).json
    assert answer["endpoint"].partition(", by")[0] == ENDPOINTS[key].name
    assert (ENDPOINTS[key].about in answer["cautions"]) == (key != "any-revision")


def test_every_endpoint_may_be_named():
    option = next(one for one in risk.params if one.name == "endpoint")
    for key in ENDPOINTS:
        assert endpoints.named(option.type.convert(key, option, None)).key == key


@pytest.mark.parametrize("command", COMMANDS)
def test_an_endpoint_changes_the_figures_and_is_named_on_the_page(command, store):
    words = (command, *GROUPED.get(command, []))
    usual, aseptic = regdash(*words, store=store), regdash(*words, "--endpoint", "aseptic", store=store)
    assert usual.stdout.splitlines()[1:] != aseptic.stdout.splitlines()[1:]
    assert "aseptic revision" in aseptic.stdout.splitlines()[0]
    assert "any revision" not in usual.stdout.splitlines()[0]


def test_the_title_names_the_endpoint_in_either_view(store):
    words = ("risk", "--endpoint", "without-bearing-exchange")
    implant, patient = regdash(*words, store=store), regdash(*words, "--view", "patient", store=store)
    assert implant.stdout.splitlines()[0] == "Net revision risk: revision other than bearing exchange"
    assert patient.stdout.splitlines()[0] == "Cumulative incidence of revision other than bearing exchange"
    staged = regdash("risk", "--endpoint", "re-revision", "--view", "patient", store=store)
    assert staged.stdout.splitlines()[0] == "Cumulative incidence of revision: re-revision"


def test_an_endpoint_may_be_asked_for_by_the_name_that_is_printed(store):
    by_key = regdash("risk", "--endpoint", "removed:tibial", "--csv", store=store)
    by_name = regdash("risk", "--endpoint", "removal of the tibial component", "--csv", store=store)
    assert by_key.stdout == by_name.stdout


def test_one_reason_of_an_endpoint_implies_the_patient_view(store):
    answer = regdash("risk", "--endpoint", "major", "--reason", "loosening", "--json", store=store).json
    assert (answer["view"], answer["endpoint"]) == ("patient", "major revision, for loosening")


@pytest.mark.parametrize("command", COMMANDS)
def test_help_lists_the_endpoints(command):
    said = " ".join(regdash(command, "--help").stdout.split())
    for endpoint in ENDPOINTS.values():
        assert f"{endpoint.key} {endpoint.brief}" in said


def test_a_misspelt_endpoint_names_the_nearest(store):
    said = regdash("rates", "--endpoint", "asceptic", store=store)
    assert said.code == 2
    assert "There is no endpoint asceptic. Nearest: aseptic." in one_line(said)


def test_an_endpoint_is_for_questions_that_follow_joints(store):
    assert regdash("describe", "--endpoint", "major", store=store).code == 2
