"""The whole contract of the store: one class, run on every database."""

from tests.store.contract_gateway import CrowdContract, GatewayContract
from tests.store.contract_imports import ImportContract, UndoContract
from tests.store.contract_records import (
    ChangeContract,
    RecordContract,
    RemovalContract,
    ShellContract,
)
from tests.store.contract_samples import AwaitedContract, EditContract, FleetContract
from tests.store.contract_verdicts import LimitContract, SettingContract, WatchContract


class StoreContract(RecordContract, ChangeContract, RemovalContract, ShellContract, FleetContract,
                    EditContract, AwaitedContract, ImportContract, UndoContract, WatchContract,
                    LimitContract, SettingContract, GatewayContract, CrowdContract):
    """Needs the fixtures ``store``, and ``second``: another store of the same database."""
