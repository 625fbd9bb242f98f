"""Equipment's part of `/api/v1/`."""

from django.urls import path

from equipment.api import fast_counts, floor, holds, moves, reading, record, sizing
from equipment.record_paper import TABLES

urlpatterns = [
    path("units", reading.UnitsView.as_view()),
    path("units/condition", moves.ConditionView.as_view()),
    path("units/<str:number>", reading.UnitView.as_view()),
    path("availability", reading.AvailabilityView.as_view()),
    path("pools/<int:pool_id>/holdings", reading.HoldingsView.as_view()),
    path("sources", reading.SourcesView.as_view()),
    path("expected-back", reading.ExpectedView.as_view()),
    path("holds", holds.HoldsView.as_view()),
    path("holds/<int:reservation_id>/confirm", holds.ConfirmView.as_view()),
    path("holds/<int:reservation_id>/extend", holds.ExtendView.as_view()),
    path("holds/<int:reservation_id>/shorten", holds.ShortenView.as_view()),
    path("holds/<int:reservation_id>/release", holds.ReleaseView.as_view()),
    path("moves/scan-out", moves.ScanOutView.as_view()),
    path("moves/scan-in", moves.ScanInView.as_view()),
    path("moves/place", moves.PlaceView.as_view()),
    path("moves/take-up", moves.TakeUpView.as_view()),
    path("moves/to-job", moves.MoveView.as_view()),
    path("moves/<int:move_id>/undo", moves.UndoView.as_view()),
    path("moves/<int:move_id>/correct", moves.CorrectView.as_view()),
    path("jobs/<int:job_id>/sizing", sizing.SizingView.as_view()),
    path("jobs/<int:job_id>/sizing.pdf", sizing.SizingSheetView.as_view()),
    path("jobs/<int:job_id>/drying-record", record.RecordView.as_view()),
    path("jobs/<int:job_id>/drying-record.pdf", record.RecordPdfView.as_view()),
    *(path(f"jobs/<int:job_id>/{name}.csv", record.RecordTableView.as_view(table=name)) for name in TABLES),
    path("jobs/<int:job_id>/close", moves.CloseView.as_view()),
    path("load-lists", floor.LoadListsView.as_view()),
    path("load-lists/<int:load_list_id>", floor.LoadListView.as_view()),
    path("warehouses/<int:warehouse_id>/departures", floor.DeparturesView.as_view()),
    path("warehouses/<int:warehouse_id>/cleaning", reading.CleaningView.as_view()),
    path("transfers/send", floor.SendTransferView.as_view()),
    path("transfers/receive", floor.ReceiveTransferView.as_view()),
    path("counts", floor.CountView.as_view()),
    path("counts/by-model", fast_counts.CountByModelView.as_view()),
    path("counts/by-model/<int:fast_count_id>/numbers", fast_counts.CountNumbersView.as_view()),
    path("alarms", reading.AlarmsView.as_view()),
    path("alarms/<int:alarm_id>/settle", floor.SettleAlarmView.as_view()),
    path("discrepancies", reading.DiscrepanciesView.as_view()),
    path("discrepancies/<int:discrepancy_id>/settle", floor.SettleDiscrepancyView.as_view()),
]
