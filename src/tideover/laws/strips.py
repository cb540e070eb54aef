"""Strips of a whole pack as a network of resistances: who carries what, and what it costs.

Nodes are the two ends of every cell, ``2 k`` its plus and ``2 k + 1`` its minus, then the plus lead and the minus
lead. Segments of strip join them. The strips are reduced once to what they do between cells; a solution for other
voltages, resistances or loads is then one small linear system. Batch axes come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True, eq=False)
class StripNetwork:
    """Strips reduced to what the cells see of them.

    Attributes
    ----------
    cells : int
        How many there are, n. [-]
    ends : array, shape (n_segments, 2)
        Nodes that each segment joins; the joints of the leads come last. [-]
    ohms : array, shape (..., n_segments)
        Of each segment; zero is as good as any. [ohm]
    part : array, shape (2 n + 2,)
        Which connected piece of strip each node belongs to. [-]
    rise : array, shape (..., 2 n + 2, 2 n + 2)
        Voltage of each node over the first of its piece, per ampere fed into each. [ohm]
    flow : array, shape (..., n_segments, 2 n + 2)
        Current in each segment, from its first end to its second, per ampere fed into each node. [-]
    """

    cells: int
    ends: Any
    ohms: Any
    part: Any
    rise: Any
    flow: Any

    @classmethod
    def of(cls, cells: int, ends: Any, ohms: Any, plus: Sequence[int], minus: Sequence[int]) -> StripNetwork:
        """Reduce a network.

        Parameters
        ----------
        cells : int
            How many, n. [-]
        ends : array, shape (n_segments, 2)
            Nodes that each segment joins. [-]
        ohms : array, shape (..., n_segments)
            Of each; zero or above. [ohm]
        plus, minus : sequence of int
            Nodes at which each lead is soldered; at several, the lead itself has no resistance. [-]

        Returns
        -------
        network : StripNetwork
            With the joints of the leads added to the segments. [ohm]

        Raises
        ------
        ValueError
            When the ends of a lead or of a cell are joined to nothing they could be: a lead in the air, a cell whose
            two ends are one piece of strip, which is a short circuit.

        Notes
        -----
        Node equations with the currents of the segments as unknowns beside the voltages, so that a segment without
        resistance does no harm; where several of them form a ring, the current is shared with least squares.

        References
        ----------
        .. [1] Kirchhoff's laws.

        Examples
        --------
        Two cells side by side, both leads at the first:

        >>> pair = StripNetwork.of(2, [(0, 2), (1, 3)], [1e-3, 1e-3], [0], [1])
        >>> print(pair.part)
        [0 1 0 1 0 1]
        """
        leads = [(2 * cells, k) for k in plus] + [(2 * cells + 1, k) for k in minus]
        if not plus or not minus:
            raise ValueError("Each lead must be soldered somewhere.")
        ends = np.concatenate([np.reshape(np.asarray(ends, dtype=int), (-1, 2)), np.array(leads)])
        ohms = np.asarray(ohms, dtype=float)
        ohms = np.concatenate([ohms, np.zeros((*ohms.shape[:-1], len(leads)))], axis=-1)
        nodes = 2 * cells + 2
        part = _pieces(nodes, ends)
        if np.any(part[0 : 2 * cells : 2] == part[1 : 2 * cells : 2]) or part[-1] == part[-2]:
            raise ValueError("Strips join the plus and the minus end of a cell: that is a short circuit.")
        rise, flow = np.zeros((*ohms.shape[:-1], nodes, nodes)), np.zeros((*ohms.shape, nodes))
        for piece in range(part.max() + 1):
            own = np.flatnonzero(part == piece)
            bars = np.flatnonzero(part[ends[:, 0]] == piece)
            if len(own) < 2:
                continue
            near = np.searchsorted(own, ends[bars])
            v, f = _reduced(len(own), near, ohms[..., bars])
            rise[..., own[:, None], own[None, :]] = v
            flow[..., bars[:, None], own[None, :]] = f
        return cls(cells, ends, ohms, part, rise, flow)

    def solve(self, ocv: Any, r_cell: Any, i: Any) -> Shares:
        """Currents for given voltages, resistances and load.

        Parameters
        ----------
        ocv : array, shape (..., n)
            Voltage of each cell behind its resistance. [V]
        r_cell : array, shape (..., n)
            Of each cell with its welds, above zero; infinite for an open weld. [ohm]
        i : float or array, shape (...)
            Discharge current of the pack. [A]

        Returns
        -------
        shares : Shares
            Who carries what. [A, V]

        References
        ----------
        .. [1] Kirchhoff's laws.

        Examples
        --------
        >>> pair = StripNetwork.of(2, [(0, 2), (1, 3)], [1e-3, 1e-3], [0], [1])
        >>> print(pair.solve([3.7, 3.7], [0.048, 0.048], 2.0).currents.round(2))
        [1.02 0.98]
        """
        ocv, g = np.asarray(ocv, dtype=float), 1.0 / np.asarray(r_cell, dtype=float)
        i = np.asarray(i, dtype=float)
        n = self.cells
        free = self.part.max()  # voltages of all pieces over that of the minus lead
        matrix, by_load, by_load_sum = self._matrix(g)
        shape = np.broadcast_shapes(matrix.shape[:-2], ocv.shape[:-1], i.shape)
        right = np.zeros((*shape, n + free))
        right[..., :n] = g * (ocv - by_load * i[..., None])
        right[..., n:] = -by_load_sum * i[..., None]
        found = np.linalg.solve(np.broadcast_to(matrix, (*shape, n + free, n + free)), right[..., None])[..., 0]
        return self._shares(found[..., :n], found[..., n:], i)

    def line(self, ocv: Any, r_cell: Any) -> tuple[Any, Any, Any, Any]:
        """Everything as a straight line over the load, for loads that follow the voltage.

        Parameters
        ----------
        ocv, r_cell : array, shape (..., n)
            As in `solve`. [V, ohm]

        Returns
        -------
        i_0, i_1 : array, shape (..., n)
            Currents of the cells without load, and what each ampere of load adds. [A, -]
        v_0, r : array, shape (...)
            Voltage of the leads without load, and what each ampere of load takes away. [V, ohm]

        References
        ----------
        .. [1] Kirchhoff's laws.

        Examples
        --------
        >>> pair = StripNetwork.of(2, [(0, 2), (1, 3)], [1e-3, 1e-3], [0], [1])
        >>> *_, v_0, r = pair.line([3.7, 3.7], [0.048, 0.048])
        >>> print(f"{v_0:.2f} V behind {r * 1e3:.2f} mohm")
        3.70 V behind 24.49 mohm
        """
        ocv, g = np.asarray(ocv, dtype=float), 1.0 / np.asarray(r_cell, dtype=float)
        n, free = self.cells, self.part.max()
        matrix, by_load, by_load_sum = self._matrix(g)
        shape = np.broadcast_shapes(matrix.shape[:-2], ocv.shape[:-1])
        right = np.zeros((*shape, n + free, 2))
        right[..., :n, 0] = g * ocv
        right[..., :n, 1] = -g * by_load
        right[..., n:, 1] = -by_load_sum
        found = np.linalg.solve(np.broadcast_to(matrix, (*shape, n + free, n + free)), right)
        i_0, i_1 = found[..., :n, 0], found[..., :n, 1]
        none, one = np.zeros(shape), np.ones(shape)
        v_0 = self._shares(i_0, found[..., n:, 0], none).volts
        r = -self._shares(i_1, found[..., n:, 1], one).volts
        return i_0, i_1, v_0, r

    def _shares(self, currents: Any, over: Any, i: Any) -> Shares:
        fed = self._fed(currents, i)
        order = [p for p in range(self.part.max() + 1) if p != self.part[-1]]
        base = np.zeros((*over.shape[:-1], self.part.max() + 1))
        base[..., order] = over
        nodes = base[..., self.part] + np.einsum("...jk,...k->...j", self.rise, fed)
        nodes = nodes - nodes[..., -1:]
        return Shares(currents, nodes, np.einsum("...sk,...k->...s", self.flow, fed), self.ohms)

    def _fed(self, currents: Any, i: Any) -> Any:
        """Current fed into each node of the strips."""
        fed = np.zeros((*currents.shape[:-1], 2 * self.cells + 2))
        fed[..., 0:-2:2], fed[..., 1:-2:2] = currents, -currents
        fed[..., -2], fed[..., -1] = -i, i
        return fed

    def _matrix(self, g: Any) -> tuple[Any, Any, Any]:
        """Rows: each cell's own law, times its conductance; then what flows into each piece of strip adds up."""
        n = self.cells
        across = self.rise[..., 0:-2:2, :] - self.rise[..., 1:-2:2, :]  # of plus over minus end, by node fed
        between = across[..., 0:-2:2] - across[..., 1:-2:2]
        by_load = across[..., -1] - across[..., -2]
        own = np.zeros((n, self.part.max() + 1))
        own[np.arange(n), self.part[0:-2:2]] += 1.0
        own[np.arange(n), self.part[1:-2:2]] -= 1.0
        order = [p for p in range(self.part.max() + 1) if p != self.part[-1]]
        load = np.zeros(self.part.max() + 1)
        load[self.part[-2]] -= 1.0
        load[self.part[-1]] += 1.0
        own, load = own[:, order], load[order]
        shape = np.broadcast_shapes(between.shape[:-2], g.shape[:-1])
        matrix = np.zeros((*shape, n + len(order), n + len(order)))
        matrix[..., :n, :n] = g[..., :, None] * between
        matrix[..., np.arange(n), np.arange(n)] += 1.0
        matrix[..., :n, n:] = g[..., :, None] * own
        matrix[..., n:, :n] = own.T
        return matrix, by_load, load


@dataclass(frozen=True, eq=False)
class Shares:
    """What flows where.

    Attributes
    ----------
    currents : array, shape (..., n)
        Discharge current of each cell. [A]
    nodes : array, shape (..., 2 n + 2)
        Voltage of each node over the minus lead. [V]
    segments : array, shape (..., n_segments)
        Current in each segment, from its first end to its second; those of the leads' joints last. [A]
    ohms : array, shape (..., n_segments)
        Of each segment. [ohm]
    """

    currents: Any
    nodes: Any
    segments: Any
    ohms: Any

    @property
    def volts(self) -> Any:
        """Voltage between the leads, shape (...). [V]"""
        return self.nodes[..., -2] - self.nodes[..., -1]

    @property
    def heat(self) -> Any:
        """Set free in each segment, shape (..., n_segments). [W]"""
        return self.ohms * np.square(self.segments)


def joint_resistance(network: StripNetwork, r_cell: Any, r_weld: Any, groups: int) -> Any:
    """What strips and welds add to a pack, for each group in series.

    Parameters
    ----------
    network : StripNetwork
        Of the pack. [ohm]
    r_cell : array, shape (..., n)
        Of the cells alone, group by group; infinite for one that is lost. [ohm]
    r_weld : float or array, shape (..., n)
        Of both ends of a cell. [ohm]
    groups : int
        In series. [-]

    Returns
    -------
    r : array, shape (...)
        Resistance between the leads, less that of cells which share without loss, over the number of groups. [ohm]

    Notes
    -----
    What unequal sharing costs is part of it.

    References
    ----------
    .. [1] Kirchhoff's laws.

    Examples
    --------
    Four cells in a row, both leads at the first; strips of 1.2 mohm from cell to cell:

    >>> ends = [(0, 2), (2, 4), (4, 6), (1, 3), (3, 5), (5, 7)]
    >>> row = StripNetwork.of(4, ends, np.full(6, 1.2e-3), [0], [1])
    >>> print(f"{joint_resistance(row, np.full(4, 0.05), 0.0, 1) * 1e3:.2f} mohm")
    1.96 mohm
    """
    r_cell = np.asarray(r_cell, dtype=float)
    *_, r = network.line(np.zeros_like(r_cell), r_cell + r_weld)
    alone = 1.0 / np.sum(1.0 / r_cell.reshape(*r_cell.shape[:-1], groups, -1), axis=-1)
    return (r - alone.sum(axis=-1)) / groups


def _pieces(nodes: int, ends: Any) -> Any:
    """Which connected piece of strip each node belongs to."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    graph = coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(nodes, nodes))
    return connected_components(graph, directed=False)[1]


def _reduced(nodes: int, ends: Any, ohms: Any) -> tuple[Any, Any]:
    """Voltages over the first node and currents of the segments, per ampere fed into each node of one piece.

    What is fed into a node leaves at the first.
    """
    bars = len(ends)
    a = np.zeros((*ohms.shape[:-1], nodes + bars, nodes + bars))
    rows = np.arange(bars)
    a[..., ends[:, 0], nodes + rows] += 1.0
    a[..., ends[:, 1], nodes + rows] -= 1.0
    a[..., nodes + rows, ends[:, 0]] = 1.0
    a[..., nodes + rows, ends[:, 1]] = -1.0
    # Volts per ampere of the order of the segments, so that no unknown is far larger than another.
    scale = np.maximum(ohms.max(axis=-1), 1e-9)[..., None]
    a[..., nodes + rows, nodes + rows] = -ohms / scale
    a[..., 0, :] = 0.0
    a[..., 0, 0] = 1.0
    found = np.linalg.pinv(a, rcond=1e-12)[..., :, :nodes]
    found[..., :, 0] = 0.0
    return found[..., :nodes, :] * scale[..., None], found[..., nodes:, :]
