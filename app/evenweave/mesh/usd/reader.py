"""USD files (.usd, .usda, .usdc, .usdz), read through OpenUSD's own library.

Everything is read at its earliest time: the first time sample where there are samples,
the default value elsewhere. Source: OpenUSD, UsdGeom and UsdPreviewSurface documentation
(texture coordinates have their origin in the lower left, so v already runs up).
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

from evenweave.errors import FileProblem
from evenweave.mesh.assembly import Assembly
from evenweave.mesh.asset import Asset, Companion, Unit
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.names import cleaned, shortest_distinct
from evenweave.mesh.place import Place
from evenweave.mesh.usd.crate import check_crate
from evenweave.mesh.usd.layers import layer_files, missing_files
from evenweave.mesh.usd.meshes import Meshes
from evenweave.progress import Progress, silent

_MOST_PRIMS = 250_000
_PARSE_ERROR = re.compile(r":(\d+):(\d+): parse error")
_ERROR_REASON = re.compile(r" : '(.*?)'(?:\n|$)")
_MISSING_ASSET = re.compile(r"Could not (?:open asset|load sublayer) @(.+?)@")
_MOST_FINDINGS = 5


def read(path: Path, progress: Progress = silent) -> Asset:
    """Return the meshes of a USD stage, or raise a FileProblem.

    A part is a mesh prim; a mesh shown by several instances makes several parts.
    """
    place = Place(path)
    caveats = Caveats()
    progress(0.0, "opening the stage")
    check_crate(path, place)
    with _quiet(place, caveats):
        stage = _opened(path, place)
        layers = layer_files(stage)
        assembly = Assembly(path, sum(one.stat().st_size for one in layers))
        meshes = Meshes(assembly, caveats)
        _gather(stage, meshes, caveats, place=place, progress=progress)
        _caveat_on_composition(stage, caveats)
        if not assembly.has_faces:
            reasons = caveats.reasons()
            cause = "it has no mesh with faces"
            raise place.problem(f"{cause} ({reasons})" if reasons else cause)
        unit, up_axis = _unit(stage, caveats), _up_axis(stage)
        textured = meshes.textured()
        others = [one for one in (*layers, *missing_files(stage)) if one != path.absolute()]
    progress(0.9, "joining the parts")
    asset = assembly.finish(
        format="usd",
        unit=unit,
        up_axis=up_axis,
        uv_sets=meshes.uv_set_order(),
        caveats=caveats.sentences(),
    )
    part_names = shortest_distinct(asset.part_names)
    material_names = meshes.material_names()
    return replace(
        asset,
        part_names=tuple(part_names[path] for path in asset.part_names),
        material_names=tuple(material_names[key] for key in asset.material_names),
        textured=textured,
        companions=tuple(map(Companion, dict.fromkeys(others))),
    )


@contextmanager
def _quiet(place: Place, caveats: Caveats) -> Iterator[None]:
    """Turn the library's warnings into caveats and its errors into file problems."""
    from pxr import Tf, UsdUtils

    diagnostics = UsdUtils.CoalescingDiagnosticDelegate()
    try:
        yield
        findings = [item.commentary for item in diagnostics.TakeUncoalescedDiagnostics()]
        # What begins so is about composition, which has its own caveats.
        composing = ("In <", "Could not load sublayer")
        others = dict.fromkeys(
            w.splitlines()[0] for w in findings if w and not w.startswith(composing)
        )
        for finding in list(others)[:_MOST_FINDINGS]:
            caveats.say(f"USD warns: {cleaned(finding)[:200].rstrip('.')}.")
    except Tf.ErrorException as error:
        raise _problem(place, error) from None
    except UnicodeDecodeError:
        raise place.problem("it holds text that is not UTF-8") from None
    finally:
        del diagnostics


def _problem(place: Place, error: Any) -> FileProblem:
    message = "\n".join(_words(argument) for argument in error.args)
    parse_error = _PARSE_ERROR.search(message)
    if parse_error:
        at = place.at("line {}, column {}".format(*parse_error.groups()))
        return at.problem("it is not valid USD text")
    reasons = _ERROR_REASON.findall(message)
    reason = next((r for r in reasons if "Failed to open layer" not in r), "")
    reason = cleaned(reason.replace(str(place.path.absolute()), place.path.name))
    is_opening = "UsdStage::Open" in message
    cause = "it is not a USD file or is damaged" if is_opening else "it cannot be read"
    return place.problem(f"{cause} ({reason[:160].rstrip('.')})" if reason else cause)


def _words(argument: Any) -> str:
    """Return an error's words, which quote the file and so need not be valid text."""
    try:
        return str(argument)
    except UnicodeDecodeError as error:
        return error.object.decode("utf-8", "replace")


def _opened(path: Path, place: Place) -> Any:
    from pxr import Usd

    try:
        # Without an absolute path a bare name would be looked up in search paths.
        return Usd.Stage.Open(str(path.absolute()), Usd.Stage.LoadAll)
    except UnicodeEncodeError:
        raise place.problem("its name is not valid text", "rename it") from None


def _gather(
    stage: Any, meshes: Meshes, caveats: Caveats, *, place: Place, progress: Progress
) -> None:
    """Visit every prim that a renderer would, those inside instances included."""
    from pxr import Tf, Usd, UsdGeom

    prim_count = _unfolded_count(stage)
    if prim_count > _MOST_PRIMS:
        raise place.problem(
            f"its instances unfold to {prim_count:.3g} prims",
            f"export at most {_MOST_PRIMS}, or split the file",
        )
    prims = Usd.PrimRange.Stage(stage, Usd.TraverseInstanceProxies(Usd.PrimDefaultPredicate))
    for visited, prim in enumerate(prims):
        if prim.IsA(UsdGeom.Mesh):
            progress(0.1 + 0.8 * visited / prim_count, "reading the meshes")
            at = place.at(f"mesh '{prim.GetPath()}'")
            try:
                meshes.add(UsdGeom.Mesh(prim), at)
            except Tf.ErrorException as error:
                raise _problem(at, error) from None
        elif prim.IsA(UsdGeom.PointInstancer):
            caveats.count("Prototypes of point instancers are read once, not at every point")
        elif prim.IsA(UsdGeom.Gprim):
            caveats.count(f"{prim.GetTypeName()} prims have no layout and are left out")


def _unfolded_count(stage: Any) -> int:
    """Return how many prims there are with every instance unfolded, without unfolding any."""
    from pxr import Usd

    roots = {str(root.GetPath()): root for root in [stage.GetPseudoRoot(), *stage.GetPrototypes()]}
    own: dict[str, int] = {}
    inside: dict[str, Counter[str]] = {}
    for path, root in roots.items():
        prims = list(Usd.PrimRange(root))
        own[path] = len(prims)
        inside[path] = Counter(str(p.GetPrototype().GetPath()) for p in prims if p.IsInstance())
    total: dict[str, int] = {}
    for path in TopologicalSorter(inside).static_order():
        # The root of a prototype stands for the instance itself, which is counted already.
        nested = sum((total[p] - 1) * times for p, times in inside[path].items())
        total[path] = own[path] + nested
    return total["/"]


def _caveat_on_composition(stage: Any, caveats: Caveats) -> None:
    for error in stage.GetCompositionErrors():
        words = str(error)
        asset_path = _MISSING_ASSET.search(words)
        if asset_path:
            found = Path(asset_path.group(1))
            name = cleaned(found.name if found.is_absolute() else str(found))
            caveats.say(f"The file {name} could not be opened and is left out.")
        else:
            first = (words.splitlines() or ["unknown reason"])[0]
            first = cleaned(first)[:200].rstrip(".")
            caveats.say(f"Part of the stage could not be composed: {first}.")


def _unit(stage: Any, caveats: Caveats) -> Unit:
    """Return metersPerUnit as stated, or USD's default of a centimetre as assumed."""
    from pxr import UsdGeom

    if UsdGeom.StageHasAuthoredMetersPerUnit(stage):
        metres = float(UsdGeom.GetStageMetersPerUnit(stage))
        if math.isfinite(metres) and metres > 0:
            return Unit(metres=metres, is_stated=True)
        caveats.say(f"metersPerUnit is {metres:g}, which is no length: 0.01 is assumed.")
    return Unit(metres=0.01, is_stated=False)


def _up_axis(stage: Any) -> str:
    from pxr import UsdGeom

    return "z" if UsdGeom.GetStageUpAxis(stage) == UsdGeom.Tokens.z else "y"
