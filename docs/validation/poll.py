"""Golden values for a poll: abilities with ties and an advantage of the left, and
their errors over groups of judges, by scipy.

The likelihood is written out outcome by outcome and maximised by a general
minimiser; each group of judges is left out in turn and the whole fit done again.
Nothing is taken from the program. The counts are invented, from a formula that the
test repeats.
"""
import hashlib, itertools, sys
import numpy as np, scipy
from scipy import optimize

K, G = 4, 12
def counts(g, i, j):
    """Left wins, right wins, ties of group g with i on the left of j."""
    return ((3*g + 5*i + 2*j) % 5 + 2*(i > j) + (g % 3)*(i % 2), (2*g + i + 4*j) % 4 + (j > i), (g + i + j) % 3)
votes = [[(i, j) + counts(g, i, j) for i, j in itertools.permutations(range(K), 2)] for g in range(G)]

def fit(groups):
    rows = np.array([r for g in groups for r in g])
    i, j, n = rows[:, 0], rows[:, 1], rows[:, 2:]
    def nll(t):
        a = np.concatenate(([0], t[:K-1])); s, lognu = t[K-1], t[K]
        u = np.stack((a[i] + s/2, a[j] - s/2, lognu + (a[i] + a[j])/2), axis=1)
        return -(n * (u - scipy.special.logsumexp(u, axis=1, keepdims=True))).sum()
    best = optimize.minimize(nll, np.zeros(K+1), method="BFGS", options={"gtol": 1e-9})
    best = optimize.minimize(nll, best.x, method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-13, "maxiter": 20000, "maxfev": 20000})
    return best.x

print("# poll.py, scipy %s, numpy %s, sha256 %s" % (scipy.__version__, np.__version__, hashlib.sha256(open(sys.argv[0], "rb").read()).hexdigest()[:16]))
print("name,value")
whole = fit(votes)
without = np.array([fit(votes[:g] + votes[g+1:]) for g in range(G)])
def error(f):
    d = np.array([f(t) for t in without])
    return np.sqrt((G-1)/G * ((d - d.mean())**2).sum())
def put(name, f):
    print("%s,%.9g" % (name, f(whole))); print("%s_se,%.7g" % (name, error(f)))
for a in range(1, K):
    put("item_%d_over_0" % a, lambda t: t[a-1])
put("item_3_over_1", lambda t: t[2] - t[0])
put("arms_13_over_02", lambda t: (t[0] + t[2])/2 - t[1]/2)
put("side", lambda t: t[K-1])
print("tie_share,%.9g" % (np.exp(whole[K]) / (2 + np.exp(whole[K]))))
