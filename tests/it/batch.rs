//! Tables of beads: the same bits as one bead alone, whatever runs beside it.

mod alone;
mod chain;
mod compare;
mod furnace_loss;
mod glass;
mod glass_poisoned;
mod notes;
mod parity;
mod poisoned;
mod recorrect;
mod unsound;
