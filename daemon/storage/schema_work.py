"""Tables of what people do and promise: rounds, duties, test messages."""

from daemon.storage.schema_delivery import DELIVERY
from daemon.storage.schema_duty import DUTY
from daemon.storage.schema_rounds import ROUNDS
from daemon.storage.schema_trials import TRIALS

WORK: tuple[str, ...] = (*ROUNDS, *DUTY, *TRIALS, *DELIVERY)
