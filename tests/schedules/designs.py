"""Small designs whose quantities are counted by hand."""

from evenground.electrode import rectangular_mat, rods_at
from evenground.model.conductor import ConductorRequest, ConductorResult
from evenground.model.electrode import Conductor, Electrode
from evenground.model.installation import EquipmentItem, Fence, Gate, Installation
from evenground.model.project import Identity, Revision
from evenground.model.site import SurfaceZone
from evenground.schedules import design_of_electrode

IDENTITY = Identity(
    "Earthing of Lower Pell pumping station",
    site="Lower Pell (invented)",
    client="Pell Water Board (invented)",
    document_number="LP-EA-07",
    revisions=(
        Revision("A", "2026-02-01", "First layout", "T. Quill", "R. Amsel"),
        Revision("B", "2026-03-01", "Rods added at two corners", "T. Quill", "R. Amsel", "H. Voss"),
    ),
)


def result(role, material, joint, area, radius, shape="strand"):
    """A sizing result as the conductor stage gives it, with a stated section."""
    request = ConductorRequest(role, material, joint=joint, shape=shape, area_mm2=area)
    return ConductorResult(
        request, "", 0.0, 1.0, 0.0, "", 0.0, 0.0, "thermal", 0.0, area, area, None, None, radius
    )


CONDUCTORS = {
    "mat": result("mat", "copper_hard_drawn", "exothermic", 95.0, 0.00625),
    "riser": result("riser", "copper_hard_drawn", "compression", 70.0, 0.005),
    "rod": result("rod", "copper_clad_steel_rod_20", "exothermic", 158.4, 0.0071, "round"),
}

ZONES = (
    SurfaceZone("yard", ((-1, -1), (21, -1), (21, 11), (-1, 11)), 3000, 0.1, "crushed rock"),
    SurfaceZone("road", ((0, 0), (20, 0), (20, 30), (0, 30)), 10000, 0.05, "asphalt"),
    SurfaceZone("elsewhere", None, None, 0.0),
)

INSTALLATION = Installation(
    equipment=(
        EquipmentItem("T1", "transformer", 7.5, 3.0, terminals=2),
        EquipmentItem("SA-1", "surge arrester", 5.0, 7.0, terminals=1, height_m=1.0),
    ),
    fences=(Fence(((0, 0), (20, 0), (20, 10), (0, 10)), "yard fence", True),),
    gates=(Gate((8, 0), (12, 0), "main gate"),),
    pit_rods=(1,),
    trench_width_m=0.5,
    trench_below_m=0.1,
    rod_section_m=1.5,
    imported_backfill_share=0.25,
)


def small(installation=INSTALLATION, surface=ZONES, **more):
    """20 m by 10 m with 4 by 2 meshes of 5 m, 0.7 m deep, two rods of 3.2 m and a riser."""
    mat = rectangular_mat(length_x_m=20, length_y_m=10, meshes_x=4, meshes_y=2, depth_m=0.7, radius_m=0.00625)
    rods = rods_at([(0, 0), (20, 10)], length_m=3.2, radius_m=0.0071, top_depth_m=0.7)
    riser = Electrode([Conductor((10, 5, 0.7), (10, 5, 0.0), 0.005, kind="riser")])
    return design_of_electrode(
        mat + rods + riser,
        IDENTITY,
        conductors=CONDUCTORS,
        surface=surface,
        installation=installation,
        input_hash="ab" * 32,
        **more,
    )
