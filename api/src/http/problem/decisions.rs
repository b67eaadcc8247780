//! Refusals by a decision where something stands in the way: a conflict, and which field.

use super::{Code, Problem};

impl From<plumbline_core::calendar::ClosureError> for Problem {
    fn from(error: plumbline_core::calendar::ClosureError) -> Self {
        use plumbline_core::calendar::ClosureError;
        let code = if matches!(error, ClosureError::Closed { .. }) { Code::Conflict } else { Code::Invalid };
        Self::field(error.field(), error).with_code(code)
    }
}

impl From<plumbline_core::lesson::RecordError> for Problem {
    fn from(error: plumbline_core::lesson::RecordError) -> Self {
        use plumbline_core::lesson::RecordError;
        let code =
            if matches!(error, RecordError::AlreadyRecorded(_)) { Code::Conflict } else { Code::Invalid };
        Self::field(error.field(), error).with_code(code)
    }
}

impl From<plumbline_core::check::AnswerError> for Problem {
    fn from(error: plumbline_core::check::AnswerError) -> Self {
        use plumbline_core::check::AnswerError;
        let code =
            if matches!(error, AnswerError::AlreadyAnswered(..)) { Code::Conflict } else { Code::Invalid };
        Self::field(error.field(), error).with_code(code)
    }
}

impl From<plumbline_core::check::RoundError> for Problem {
    fn from(error: plumbline_core::check::RoundError) -> Self {
        use plumbline_core::check::RoundError::{Closed, LeavesAfter, LeavesBefore};
        let in_the_way = matches!(error, Closed | LeavesAfter(_) | LeavesBefore(_));
        let code = if in_the_way { Code::Conflict } else { Code::Invalid };
        Self::field(error.field(), error).with_code(code)
    }
}
