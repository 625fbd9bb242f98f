"""Holder and stock rows, made when first needed."""

from collections.abc import Iterable

from equipment.models import Holder, Pool, Vehicle, Warehouse
from jobs.models import Job
from jobs.refusals import NotThere


def holder_for_warehouse(warehouse_id: int) -> Holder:
    """
    :raises NotThere: if there is no such warehouse.
    """
    found = Holder.objects.filter(warehouse_id=warehouse_id).first()
    if found is None:
        warehouse = Warehouse.objects.filter(pk=warehouse_id).first()
        if warehouse is None:
            raise NotThere(f"There is no warehouse {warehouse_id}. Choose one from the list.", where="warehouse_id")
        found, _ = Holder.objects.get_or_create(
            warehouse=warehouse,
            defaults={"area_id": warehouse.area_id, "kind": Holder.Kind.WAREHOUSE, "name": warehouse.name},
        )
    return found


def holder_for_vehicle(vehicle_id: int) -> Holder:
    """
    :raises NotThere: if there is no such vehicle.
    """
    found = Holder.objects.filter(vehicle_id=vehicle_id).first()
    if found is None:
        vehicle = Vehicle.objects.filter(pk=vehicle_id).first()
        if vehicle is None:
            raise NotThere(f"There is no vehicle {vehicle_id}. Choose one from the list.", where="vehicle_id")
        found, _ = Holder.objects.get_or_create(
            vehicle=vehicle,
            defaults={"area_id": vehicle.area_id, "kind": Holder.Kind.VEHICLE, "name": vehicle.name},
        )
    return found


def holder_for_job(job_id: int) -> Holder:
    """
    :raises NotThere: if there is no such job.
    """
    found = Holder.objects.filter(job_id=job_id).first()
    if found is None:
        job = Job.objects.filter(pk=job_id).first()
        if job is None:
            raise NotThere(f"There is no job {job_id}. Search for it by number or street.", where="job_id")
        # The number alone: an address would outlive its job in the ledger's rows.
        found, _ = Holder.objects.get_or_create(
            job=job, defaults={"area_id": job.area_id, "kind": Holder.Kind.JOB, "name": job.number}
        )
    return found


def holder_for(kind: str, *, area_id: int, name: str = "") -> Holder:
    """A holder that is no place of ours: repair, a supplier (by name), the road, not found, gone."""
    if kind in {Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE, Holder.Kind.JOB}:
        raise ValueError(f"a {kind} has its own holder")
    found = Holder.objects.filter(kind=kind, area_id=area_id, name=name).order_by("id").first()
    return found or Holder.objects.create(kind=kind, area_id=area_id, name=name)


def pool_for(*, model_id: int, place: Holder) -> Pool:
    """The stock row of one model at a warehouse or aboard a vehicle."""
    pool, _ = Pool.objects.get_or_create(model_id=model_id, place=place)
    return pool


def pool_ids(wanted: Iterable[tuple[int, int]]) -> dict[tuple[int, int], int]:
    """The ids of the stock rows by (model id, place's holder id), those made that are missing."""
    keys = sorted(set(wanted))
    Pool.objects.bulk_create((Pool(model_id=model, place_id=place) for model, place in keys), ignore_conflicts=True)
    rows = Pool.objects.filter(model_id__in={model for model, _ in keys}, place_id__in={place for _, place in keys})
    found = {(row.model_id, row.place_id): row.pk for row in rows}
    return {key: found[key] for key in keys}


def road_to(warehouse_id: int) -> Holder:
    """The holder of what is on the road to a warehouse."""
    to = holder_for_warehouse(warehouse_id)
    return holder_for(Holder.Kind.ROAD, area_id=to.area_id, name=road_name(str(to)))


def road_name(warehouse_holder: str) -> str:
    """What the holder of everything on the road to a warehouse is called."""
    return f"on the road to {warehouse_holder}"
