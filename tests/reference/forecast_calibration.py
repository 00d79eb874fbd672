#!/usr/bin/env python3
"""Whether forecasts come true as often as they say. usage: forecast_calibration.py CALIBRATION (the binary of `--example calibration`)

200 invented shop-months, one vehicle of each forecast at three ages; the example says how. Its real end is one more run of the same
law, so its rank among the runs, the probability integral transform (Dawid 1984), is uniform if the forecast conditions rightly on
what is known; one value per month and age, so the values of an age are independent. Uniform by Kolmogorov and Smirnov (scipy's
kstest, BSD), counts at or below the 50 % and 90 % dates by the binomial distribution (scipy), nine tests at 0.001 ÷ 9 (Bonferroni).

Built-in controls: forecasts told half the real deviations, and twice them, must be refused at every age.
"""
import json
import subprocess
import sys

from scipy import stats

MONTHS, SEED = 200, 1
LEVEL = 0.001 / 9


def months(binary, factor):
    run = subprocess.run([binary, str(MONTHS), str(SEED), str(factor)], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)["ages"]


def tests(age):
    assert len(age["pit"]) == MONTHS and age["locked"] == 0
    return {"PIT": stats.kstest(age["pit"], "uniform").pvalue, "50 %": stats.binomtest(age["by50"], MONTHS, 0.5).pvalue,
            "90 %": stats.binomtest(age["by90"], MONTHS, 0.9).pvalue}


def main(binary):
    print("age         by 50 %   by 90 %   50 to 90 %   PIT by tenths                              p: PIT   50 %   90 %")
    bad = []
    for age in months(binary, 1):
        tenths = [sum(int(10 * min(x, 0.9999)) == i for x in age["pit"]) for i in range(10)]
        p = tests(age)
        print(f"{age['age']:<11} {100 * age['by50'] / MONTHS:5.1f} %   {100 * age['by90'] / MONTHS:5.1f} %   {age['width']:6.0f} min"
              f"   {' '.join(f'{n:3d}' for n in tenths)}   {'  '.join(f'{x:.3f}' for x in p.values())}")
        bad += [(age["age"], name, x) for name, x in p.items() if x < LEVEL]
    for factor in (0.5, 2):
        for age in months(binary, factor):
            p = tests(age)
            print(f"control, deviations × {factor}, {age['age']}: {age['by50']} and {age['by90']} of {MONTHS}, least p {min(p.values()):.1e}")
            assert min(p.values()) < LEVEL, f"the tests let pass deviations × {factor} at {age['age']}"
    assert not bad, bad
    print(f"9 tests of calibration on {MONTHS} shop-months agree, 6 controls refused")


if __name__ == "__main__":
    main(sys.argv[1])
