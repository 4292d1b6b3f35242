"""Light through slabs of scattering stone, written apart from underlit in two ways that check each other.

Diffuse light meets a slab of refractive index n; surfaces reflect by Fresnel, inside totally beyond the critical angle;
between them light is absorbed and scattered by the phase function of Henyey and Greenstein (Astrophysical Journal 93 (1941)
70–83). `photons` follows photons one by one (Monte-Carlo); `streams` adds thin layers by doubling (H. C. van de Hulst;
S. A. Prahl, M. J. C. van Gemert & A. J. Welch, Applied Optics 32 (1993) 559–568) and has no noise.
"""

import numpy as np


def fresnel(cosine, n1, n2):
    """The share of unpolarised light reflected going from n1 to n2."""
    sine = n1 / n2 * np.sqrt(np.maximum(0, 1 - cosine**2))
    inner = np.sqrt(np.maximum(0, 1 - np.minimum(sine, 1) ** 2))
    across = (n1 * cosine - n2 * inner) / (n1 * cosine + n2 * inner)
    along = (n1 * inner - n2 * cosine) / (n1 * inner + n2 * cosine)
    return np.where(sine >= 1, 1.0, 0.5 * (across**2 + along**2))


def photons(d, scattering, absorption, g, index, rng, count, sent_back=0.0):
    """The share that passes d mm, coefficients for each mm; of what comes back out, a panel sends back a share."""
    w = np.sqrt(rng.uniform(size=count))  # Lambertian: flux goes as the cosine.
    enters = rng.uniform(size=count) >= fresnel(w, 1.0, index)
    weight = np.ones(count)
    while sent_back and not enters.all():
        # Turned away at once, and sent back by the panel, until it enters.
        away = ~enters
        weight[away] *= sent_back
        w[away] = np.sqrt(rng.uniform(size=away.sum()))
        enters[away] = rng.uniform(size=away.sum()) >= fresnel(w[away], 1.0, index)
    w, weight = np.sqrt(1 - (1 - w[enters] ** 2) / index**2), weight[enters]
    z, passed = np.zeros(w.size), 0.0
    while z.size:
        way = rng.exponential(1 / scattering, z.size)
        to_wall = np.where(w > 0, d - z, z) / np.maximum(np.abs(w), 1e-12)
        hits = way >= to_wall
        way = np.minimum(way, to_wall)
        weight = weight * np.exp(-absorption * way)
        z = np.clip(z + w * way, 0, d)
        leaves = hits & (rng.uniform(size=z.size) >= fresnel(np.abs(w), index, 1.0))
        passed += weight[leaves & (w > 0)].sum()
        w = np.where(hits, -w, w)
        if sent_back:
            returns = leaves & (w > 0)
            again = returns.copy()
            while again.any():
                weight[again] *= sent_back
                new = np.sqrt(rng.uniform(size=again.sum()))
                goes_in = rng.uniform(size=new.size) >= fresnel(new, 1.0, index)
                w[again] = np.sqrt(1 - (1 - new**2) / index**2)
                again[again] = ~goes_in
            leaves &= ~returns
        u = rng.uniform(size=(~hits).sum())
        turn = 2 * u - 1 if g == 0 else (1 + g * g - ((1 - g * g) / (1 - g + 2 * g * u)) ** 2) / (2 * g)
        around = np.cos(rng.uniform(0, 2 * np.pi, u.size))
        old = w[~hits]
        w[~hits] = old * turn + np.sqrt(np.maximum(0, (1 - old**2) * (1 - turn**2))) * around
        # Roulette: what is nearly spent goes on with one chance in ten, ten times as heavy.
        spent = weight < 1e-3
        weight = np.where(spent, weight * 10, weight)
        goes_on = ~leaves & (~spent | (rng.uniform(size=z.size) < 0.1))
        z, w, weight = z[goes_on], w[goes_on], weight[goes_on]
    return passed / count


def streams(thicknesses, scattering, absorption, g, index, sent_back=0.0):
    """The same for several thicknesses: 10 directions within the critical angle and 10 beyond."""
    x, half = np.polynomial.legendre.leggauss(10)
    edge = np.sqrt(1 - 1 / index**2)
    mu = np.r_[edge * (x + 1) / 2, edge + (1 - edge) * (x + 1) / 2]
    weight = np.r_[edge * half / 2, (1 - edge) * half / 2]
    k = np.arange(2 * mu.size)
    # The forward peak that so many directions do not resolve counts as not scattered (W. J. Wiscombe 1977, delta-M).
    peak = g ** k.size
    moments = (2 * k + 1) * (g**k - peak) / (1 - peak)
    forward, backward = (np.polynomial.legendre.legvander(s * mu, k.size - 1) for s in (1, -1))
    ahead, back = (forward * moments) @ forward.T, (forward * moments) @ backward.T
    kept = 2 / ((ahead + back) @ weight)[:, None]
    extinction = scattering * (1 - peak) + absorption
    albedo = scattering * (1 - peak) / extinction
    one, inside = np.eye(mu.size), fresnel(mu, index, 1.0)
    found = []
    for d in thicknesses:
        doublings = max(0, int(np.ceil(np.log2(extinction * d / 1e-4))))
        thin = (extinction * d / 2**doublings / (2 * mu))[:, None]
        a, b = thin * (one - 0.5 * albedo * ahead * kept * weight), thin * 0.5 * albedo * back * kept * weight
        inner = np.linalg.inv(one + a)
        g_ = np.linalg.inv(one + a - b @ inner @ b)
        r, t = 2 * g_ @ b @ inner, 2 * g_ - one
        for _ in range(doublings):
            through = t @ np.linalg.inv(one - r @ r)
            r, t = r + through @ r @ t, through @ t
        at_front = np.linalg.inv(one - r * inside) @ t
        returned = r + t @ (inside[:, None] * at_front)
        enters = index**2 * (1 - inside)
        begun = np.linalg.solve(one - inside[:, None] * returned, enters)
        flux = 2 * weight * mu
        reflected = 1 - flux @ enters + (flux * (1 - inside)) @ returned @ begun
        found.append(float((flux * (1 - inside)) @ at_front @ begun / (1 - sent_back * reflected)))
    return found
