"""Golden values for comparisons of trial cuts, by scipy and numpy.

Permutation tests come from scipy.stats.permutation_test, t tests, binomial
intervals and quantiles from scipy.stats, abilities by a general minimiser on the
likelihood written out outcome by outcome, limits by inversion through bisection on
the shift, each time with the whole test done again. Nothing is taken from the
program. Data: classical published sets, as named.
"""
import hashlib, itertools, sys
import numpy as np, scipy
from scipy import stats, optimize

tomato_a = [29.9, 11.4, 25.3, 16.5, 21.1]
tomato_b = [26.6, 23.7, 28.5, 14.2, 17.9, 24.3]
shoes_a = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
shoes_b = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]
zea = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]
cems = """Lon Bar 217 67 19|Mil Bar 104 132 67|Par Bar 157 109 37|StG Bar 144 134 25|Lon Mil 221 56 26|Par Mil 121 59 32
Lon Par 186 91 26|Lon StG 208 73 22|Mil StG 135 140 28|Par StG 165 119 19|Bar Sto 172 90 41|Lon Sto 250 34 19
Mil Sto 157 100 46|Par Sto 203 70 30|StG Sto 155 98 50"""

out = []
def put(name, v): out.append((name, float(v)))

def upper(a, b):
    """One-sided p of b above a, every way counted."""
    ys = np.array(list(a) + list(b)); n, k = len(ys), len(b)
    obs, hit, ways = np.mean(b), 0, 0
    for c in itertools.combinations(range(n), k):
        hit += ys[list(c)].mean() >= obs - 1e-9
        ways += 1
    return hit / ways
def flip(d):
    d = np.array(d, float); n = len(d)
    signs = 1 - 2 * ((np.arange(2**n)[:, None] >> np.arange(n)) & 1)
    return np.mean(signs @ d >= d.sum() - 1e-9)
def limits(p, lo, hi, mid):
    """Shifts where the one-sided tests stop rejecting at 2.5 %."""
    def edge(f, a, b):
        for _ in range(80):
            m = (a + b) / 2
            a, b = (m, b) if not f(m) else (a, m)
        return (a + b) / 2
    return edge(lambda s: p(s, 1) > .025, lo, mid), edge(lambda s: p(s, -1) <= .025, mid, hi)

r = stats.permutation_test((tomato_b, tomato_a), lambda x, y: np.mean(x) - np.mean(y), n_resamples=np.inf, alternative="greater")
put("tomato_p_greater", r.pvalue)
lo, hi = limits(lambda s, w: upper([w*x for x in tomato_a], [w*(x - s) for x in tomato_b]), -40, 40, np.mean(tomato_b) - np.mean(tomato_a))
put("tomato_low", lo); put("tomato_high", hi)
w = stats.ttest_ind(tomato_b, tomato_a, equal_var=False)
put("tomato_welch_t", w.statistic); put("tomato_welch_p", w.pvalue)
d = np.subtract(shoes_b, shoes_a)
lo, hi = limits(lambda s, w: flip(w * (d - s)), -3, 3, d.mean())
put("shoes_low", lo); put("shoes_high", hi)
put("shoes_hl", np.median([(d[i] + d[j]) / 2 for i in range(10) for j in range(i, 10)]))
t = stats.ttest_rel(shoes_b, shoes_a); put("shoes_t", t.statistic); put("shoes_t_p", t.pvalue)
z = np.array(zea)
lo, hi = limits(lambda s, w: flip(w * (z - s)), -200, 200, z.mean())
put("zea_low", lo); put("zea_high", hi); put("zea_p", 2 * flip(z))
for k, n in ((7, 10), (15, 20), (60, 100)):
    b = stats.binomtest(k, n)
    for m, name in (("wilson", "wilson"), ("exact", "cp")):
        ci = b.proportion_ci(.95, m); put(f"{name}_low_{k}_{n}", ci.low); put(f"{name}_high_{k}_{n}", ci.high)
    put(f"binom_p_{k}_{n}", b.pvalue)

names = ["Sto", "Bar", "Lon", "Mil", "Par", "StG"]
rows = [x.split() for x in cems.replace("\n", "|").split("|")]
def nll(th):
    a = dict(zip(names, [0, *th[:5]])); nu, s = np.exp(th[5]), th[6]; v = 0
    for i, j, w1, w2, ti in rows:
        x, y, e = np.exp(a[i] + s / 2), np.exp(a[j] - s / 2), nu * np.exp((a[i] + a[j]) / 2)
        v -= int(w1) * np.log(x / (x + y + e)) + int(w2) * np.log(y / (x + y + e)) + int(ti) * np.log(e / (x + y + e))
    return v
best = optimize.minimize(nll, np.zeros(7), method="BFGS", options=dict(gtol=1e-6))
best = optimize.minimize(nll, best.x, method="Nelder-Mead", options=dict(xatol=1e-9, fatol=1e-10, maxiter=40000, maxfev=40000))
for n, v in zip(names[1:] + ["lognu", "side"], best.x): put("cems_side_" + n, v)
put("cems_side_nll", best.fun)

# A Latin square by least squares on dummy variables, each term left out in turn.
square = [["A24", "B20", "C19", "D24", "E24"], ["B17", "C24", "D30", "E27", "A36"], ["C18", "D38", "E26", "A27", "B21"],
          ["D26", "E31", "A26", "B23", "C22"], ["E22", "A30", "B20", "C29", "D31"]]
cells = [(i, j, ord(c[0]) - 65, float(c[1:])) for i, row in enumerate(square) for j, c in enumerate(row)]
def rss(terms):
    m = [[1.0] + [float(c[t] == k) for t in terms for k in range(1, 5)] for c in cells]
    y = np.array([c[3] for c in cells])
    b = np.linalg.lstsq(np.array(m), y, rcond=None)[0]
    return np.sum((y - np.array(m) @ b)**2)
rest = rss((0, 1, 2))
for t, name in ((0, "bars"), (1, "places"), (2, "treatments")):
    put("square_" + name, rss([x for x in (0, 1, 2) if x != t]) - rest)
f = (rss((0, 1)) - rest) / 4 / (rest / 12)
put("square_rest", rest); put("square_f", f); put("square_p", stats.f.sf(f, 4, 12))
put("square_smallest", stats.t.ppf(.975, 12) * np.sqrt(2 * rest / 12 / 5))

print(f"# tool: python scipy {scipy.__version__} numpy {np.__version__}")
print("# input sha256:", hashlib.sha256(repr((tomato_a, tomato_b, shoes_a, shoes_b, zea, cems, square)).encode()).hexdigest())
print("name,value")
for n, v in out: print(f"{n},{v:.10g}")
