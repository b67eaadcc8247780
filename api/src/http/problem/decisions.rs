//! Refusals by a decision: which field, and a conflict where something stands in the way.

use plumbline_core::sequence::Fault;

use super::{Code, FieldError, Problem};

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
        let in_the_way = matches!(error, RecordError::AlreadyRecorded(_) | RecordError::RestedOn(_));
        let code = if in_the_way { Code::Conflict } else { Code::Invalid };
        Self::field(error.field(), error).with_code(code)
    }
}

impl From<plumbline_core::check::AnswerError> for Problem {
    fn from(error: plumbline_core::check::AnswerError) -> Self {
        Self::from(vec![error])
    }
}

impl From<Vec<plumbline_core::check::AnswerError>> for Problem {
    fn from(errors: Vec<plumbline_core::check::AnswerError>) -> Self {
        use plumbline_core::check::AnswerError;
        let in_the_way = errors.iter().all(|error| matches!(error, AnswerError::AlreadyAnswered(..)));
        let code = if in_the_way { Code::Conflict } else { Code::Invalid };
        let field = |error: AnswerError| FieldError { field: error.field(), message: error.to_string() };
        Self::fields(errors.into_iter().map(field)).with_code(code)
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

impl From<Fault> for FieldError {
    fn from(fault: Fault) -> Self {
        Self { field: fault.field, message: fault.message }
    }
}

impl From<Vec<Fault>> for Problem {
    fn from(faults: Vec<Fault>) -> Self {
        Self::fields(faults.into_iter().map(FieldError::from))
    }
}

macro_rules! field_errors {
    ($($error:ty),+ $(,)?) => {
        $(impl From<$error> for Problem {
            fn from(error: $error) -> Self {
                let field = error.field().to_string();
                Self::field(field, error)
            }
        })+
    };
}

field_errors!(
    plumbline_core::calendar::CalendarError,
    plumbline_core::calendar::TimetableError,
    plumbline_core::lesson::CoverLinkError,
    plumbline_core::roster::HandOverError,
);
