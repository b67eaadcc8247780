//! How a sequence proposal stands, from being asked for to its end.

use crate::time::Instant;

crate::vocabulary! {
    /// How far a proposal is.
    pub enum ProposalStatus {
        /// Waits for its turn.
        Queued = "queued",
        /// Is being searched for.
        Running = "running",
        /// There is a result.
        Done = "done",
        /// There is none; `problem` says why.
        Failed = "failed",
        /// Was given up at someone's wish.
        Cancelled = "cancelled",
    }
}

/// For so long a server may be silent about a proposal it works on before it counts as gone.
pub const SILENT_SECONDS: i64 = 30;

/// What was last heard of before this counts as gone.
pub fn silent_before(now: Instant) -> Instant {
    now.plus_seconds(-SILENT_SECONDS)
}

/// Why a proposal failed whose server stopped. It can be asked for again.
pub const INTERRUPTED: &str = "interrupted: the server stopped before it was done; ask again";

impl ProposalStatus {
    /// Those of which more is to come.
    pub const UNFINISHED: [Self; 2] = [Self::Queued, Self::Running];

    /// Whether nothing more will come of it.
    pub const fn is_over(self) -> bool {
        matches!(self, Self::Done | Self::Failed | Self::Cancelled)
    }

    /// How a proposal stands now that was last heard of at `alive_at`: one that no server works on
    /// any more has failed, whatever was written last.
    pub fn standing(self, alive_at: Instant, now: Instant) -> Self {
        if alive_at < silent_before(now) && !self.is_over() { Self::Failed } else { self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_runs_for_ever() {
        let (then, silent) = (Instant::from_micros(0), SILENT_SECONDS);
        for (written, seconds, standing) in [
            (ProposalStatus::Running, silent, ProposalStatus::Running),
            (ProposalStatus::Running, silent + 1, ProposalStatus::Failed),
            (ProposalStatus::Queued, silent + 1, ProposalStatus::Failed),
            (ProposalStatus::Done, 86_400, ProposalStatus::Done),
            (ProposalStatus::Cancelled, 86_400, ProposalStatus::Cancelled),
        ] {
            assert_eq!(written.standing(then, then.plus_seconds(seconds)), standing, "{written} {seconds}");
        }
    }
}
