"""test_growth: the power law of growth.py against R's lm, confint and predict on the logarithms, and its table of Student's t against qt."""
import pathlib
import random
import subprocess
import sys
import xml.etree.ElementTree

sys.path[:0] = [str(pathlib.Path(__file__).resolve().parent), str(pathlib.Path(__file__).resolve().parents[1])]
import growth  # noqa: E402
import tap  # noqa: E402
from tap import ok  # noqa: E402

R = '''
x <- scan("stdin", quiet = TRUE)
n <- x[1]
d <- data.frame(s = log(x[2:(n + 1)]), c = log(x[(n + 2):(2 * n + 1)]))
m <- lm(c ~ s, d)
p <- predict(m, data.frame(s = log(x[2 * n + 2])), interval = "prediction", level = 0.95)
cat(sprintf("%.15g\\n", c(coef(m)[2], summary(m)$coefficients[2, 2], confint(m)[2, ], exp(p))), sep = "")
'''


def main():
    rng, cases = random.Random(26), []
    for n in (3, 5, 5, 8, 22):
        sizes = [10 ** rng.uniform(3, 6) for _ in range(n)]
        cases.append((sizes, [3e-4 * s ** rng.uniform(0.9, 1.1) * rng.uniform(0.8, 1.2) for s in sizes], 1e8))
    for sizes, costs, far in cases:
        given = ' '.join(repr(v) for v in [len(sizes), *sizes, *costs, far])
        done = subprocess.run(['Rscript', '--vanilla', '-e', R], input=given, check=True, capture_output=True, text=True).stdout
        theirs = [float(v) for v in done.split()]
        fit = growth.Fit(sizes, costs)
        ours = [fit.exponent, fit.se, fit.low, fit.high, fit.at(far), *fit.between(far)]
        # The table of t has four decimals, and the exponent of the far end carries them two decades on.
        ok(len(theirs) == 7 and all(abs(a - b) <= 1e-3 * abs(b) for a, b in zip(ours, theirs)) and all(abs(a - b) <= 1e-9 * abs(b) for a, b in zip(ours[:2], theirs[:2])),
           f'{len(sizes)} measurements: exponent, its error and interval, and the interval far out are those of R')
    done = subprocess.run(['Rscript', '--vanilla', '-e', f'cat(sprintf("%.4f\\n", qt(0.975, 1:{len(growth.T_975)})), sep = "")'], check=True, capture_output=True, text=True).stdout
    ok([f'{t:.4f}' for t in growth.T_975] == done.split(), "Student's t is R's")
    try:
        growth.Fit([1, 2], [1, 2])
        refused = False
    except ValueError:
        refused = True
    ok(refused, 'two measurements are refused: they have no scatter')
    svg = growth.draw('A <title> & more', [('units', *cases[1][:2]), ('claims', *cases[2][:2])], 1e8, 'units', 's')
    root = xml.etree.ElementTree.fromstring(svg)
    dots = root.findall('{http://www.w3.org/2000/svg}circle')
    ok(len(dots) == 10, 'the drawing is well-formed, and has a dot for what was measured and none beyond')
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
