"""Error rates agree with an outside library (jiwer), and intervals with theory."""

import jiwer
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.hearing.calibration import (
    Features,
    calibration_error,
    fit,
    read_calibration,
    reliability,
    write_calibration,
)
from sayso.hearing.scores import confusions, heard_as, score, sentence_error, word_error

words = st.lists(st.sampled_from(["one", "two", "three", "four", "five"]), min_size=1, max_size=6)


@given(st.lists(st.tuples(words, words), min_size=1, max_size=12))
def test_word_error_is_what_jiwer_says(pairs: list[tuple[list[str], list[str]]]) -> None:
    scored = [score(said, heard) for said, heard in pairs]
    outside = jiwer.wer([" ".join(a) for a, _ in pairs], [" ".join(b) for _, b in pairs])
    assert word_error(scored).value == pytest.approx(outside)


def test_the_interval_of_a_share_is_the_binomial_one() -> None:
    """80 of 400 wrong: normal approximation 0.2 +- 1.96*sqrt(0.2*0.8/400) (textbook formula)."""
    scored = [score(["a"], ["b" if i % 5 == 0 else "a"]) for i in range(400)]
    found = sentence_error(scored)
    assert found.value == pytest.approx(0.2)
    assert found.low == pytest.approx(0.161, abs=0.008)
    assert found.high == pytest.approx(0.239, abs=0.008)


def test_confusions_are_counted_with_drops_and_inventions() -> None:
    scored = [
        score(["five"], ["nine"]),
        score(["five"], ["nine"]),
        score(["one", "two"], ["one"]),
        score([], ["oh"]),
    ]
    assert confusions(scored) == (("five", "nine", 2), ("two", "", 1), ("", "oh", 1))
    assert heard_as(scored) == {"five": {"nine": 1.0}}


def synthetic(count: int, seed: int) -> tuple[list[Features], list[bool]]:
    """Results whose chance to be right is known: logistic in vosk's confidence and the SNR."""
    rng = np.random.default_rng(seed)
    features, right = [], []
    for _ in range(count):
        f = Features(
            float(rng.uniform(0.2, 1)), float(rng.uniform(0.1, 0.6)), float(rng.uniform(0, 30)), 0.0, 1
        )
        x = f.vector()
        p = 1 / (1 + np.exp(-(1.5 * x[0] + 2.0 * x[2] - 1.2)))
        features.append(f)
        right.append(bool(rng.uniform() < p))
    return features, right


def test_calibrated_confidence_comes_true_on_results_never_seen() -> None:
    calibration = fit(*synthetic(3000, 1))
    features, right = synthetic(3000, 2)
    promised = np.array([calibration.confidence(f) for f in features])
    assert calibration_error(promised, np.array(right, float)) < 0.03
    raw = np.array([f.confidence for f in features])
    assert calibration_error(raw, np.array(right, float)) > 0.08  # so it was worth it


def test_the_fit_is_the_minimum_that_scipy_finds() -> None:
    """Outside check: scipy.optimize on the same penalised likelihood."""
    from scipy.optimize import minimize

    features, right = synthetic(300, 5)
    x = np.array([(*f.vector(), 1.0) for f in features])
    y = np.array(right, float)

    def loss(w: np.ndarray) -> float:
        z = x @ w
        return float(np.sum(np.logaddexp(0, z) - y * z) + 0.5 * np.sum(w[:-1] ** 2) + 0.5e-6 * w[-1] ** 2)

    best = minimize(loss, np.zeros(x.shape[1]), method="BFGS").x
    ours = fit(features, right)
    assert np.allclose([*ours.weights, ours.bias], best, atol=2e-3)


def test_a_reliability_curve_counts_every_result_once() -> None:
    promised = np.array([0.05, 0.15, 0.95, 1.0])
    curve = reliability(promised, np.array([0.0, 1.0, 1.0, 1.0]))
    assert [(b.count, b.right) for b in curve] == [(1, 0.0), (1, 1.0), (2, 1.0)]


def test_a_calibration_is_kept_beside_the_model(tmp_path) -> None:
    assert read_calibration(tmp_path) is None
    calibration = fit(*synthetic(200, 3))
    write_calibration(tmp_path, calibration)
    again = read_calibration(tmp_path)
    assert again is not None
    assert np.allclose(again.weights, calibration.weights, atol=1e-5)


def test_the_rejection_threshold_costs_one_right_answer_in_a_hundred() -> None:
    features, right = synthetic(4000, 6)
    calibration = fit(features, right)
    promised = np.array([calibration.confidence(f) for f in features])
    believed = promised >= calibration.reject_below
    answers = np.array(right)
    assert np.mean(~believed[answers]) == pytest.approx(0.01, abs=0.003)
    assert np.mean(~believed[~answers]) > 0.05  # and keeps out many more of the wrong ones
