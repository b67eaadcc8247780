//! The HTTP application: its routes, and what surrounds every one of them.

pub mod body;
pub mod caller;
mod computing;
mod docs;
mod health;
mod log;
mod methods;
pub mod page;
mod per_school;
pub mod problem;
pub mod problems;
pub mod query;
pub mod reply;
mod sheets;
mod unpack;
pub mod v1;
mod wording;
pub mod words;

use std::sync::{Arc, OnceLock};

use actix_web::{
    App, HttpServer,
    dev::Server,
    middleware::{Compress, DefaultHeaders, from_fn},
    web,
};
use plumbline_core::{attainment::Fitted, phonics::Engine};
use utoipa_actix_web::{AppExt as _, service_config::ServiceConfig};

use crate::{
    auth::{password::Passwords, throttle::Throttle, token::Tokens},
    config::Config,
    housekeeping,
    proposer::Proposer,
    store::Store,
};
use per_school::PerSchool;
use problem::{Code, Problem};
use words::school::SchoolEngine;

/// What the operations share.
pub struct Api {
    /// The settings.
    pub config: Config,
    /// The store; handlers reach it through their caller.
    pub(in crate::http) store: Store,
    /// Access tokens.
    pub tokens: Tokens,
    /// Password hashing.
    pub passwords: Passwords,
    /// Holding off guesses.
    pub throttle: Throttle,
    /// The same at links, so that guesses at those push out nothing known of accounts.
    pub link_throttle: Throttle,
    /// The thread that works off sequence proposals.
    pub proposer: Proposer,
    /// Turns at computing.
    computing: computing::Computing,
    /// The phonics engine, read when first needed.
    engine: OnceLock<Arc<Engine>>,
    /// The engine as each school has it.
    pub(in crate::http) school_engines: PerSchool<SchoolEngine>,
    /// The values of the estimate as each school's answers have them.
    pub(in crate::http) estimates: PerSchool<Fitted>,
}

impl Api {
    /// Puts the parts together.
    pub fn new(
        config: Config,
        store: Store,
        tokens: Tokens,
        passwords: Passwords,
        proposer: Proposer,
    ) -> Self {
        Self {
            config,
            store,
            tokens,
            passwords,
            throttle: Throttle::default(),
            link_throttle: Throttle::default(),
            proposer,
            computing: computing::Computing::default(),
            engine: OnceLock::new(),
            school_engines: PerSchool::default(),
            estimates: PerSchool::default(),
        }
    }

    /// The phonics engine. The first call reads its data: some tens of milliseconds.
    ///
    /// # Errors
    /// `internal` if the data built in is damaged, which a test rules out.
    pub fn engine(&self) -> Result<Arc<Engine>, Problem> {
        if let Some(engine) = self.engine.get() {
            return Ok(engine.clone());
        }
        let engine = Engine::load().map_err(|error| {
            tracing::error!(%error, "the phonics engine");
            Problem::new(Code::Internal)
        })?;
        Ok(self.engine.get_or_init(|| Arc::new(engine)).clone())
    }
}

/// Every operation of version 1. Nothing is routed anywhere else.
fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(v1::sessions::create::create_session)
        .service(v1::sessions::refresh::refresh_session)
        .service(v1::sessions::end::end_session)
        .service(v1::sessions::end_all::end_all_sessions)
        .service(v1::sessions::me::get_me)
        .service(v1::staff::invite::invite_staff)
        .service(v1::staff::accept::accept_invitation)
        .service(v1::staff::list::list_staff)
        .service(v1::staff::get::get_staff)
        .service(v1::staff::update::update_staff)
        .service(v1::staff::set_roles::set_staff_roles)
        .service(v1::school::get::get_school)
        .service(v1::school::update::update_school)
        .service(v1::calendar::years::list_school_years)
        .service(v1::calendar::save_year::save_school_year)
        .service(v1::calendar::closures::list_closures)
        .service(v1::calendar::add_closure::add_closure)
        .service(v1::calendar::remove_closure::remove_closure)
        .service(v1::calendar::days::list_teaching_days)
        .service(v1::calendar::export::export_calendar)
        .service(v1::calendar::import::import_calendar)
        .service(v1::roster_imports::create::create_roster_import)
        .service(v1::roster_imports::list::list_roster_imports)
        .service(v1::roster_imports::get::get_roster_import)
        .service(v1::roster_imports::answer::answer_roster_import)
        .service(v1::roster_imports::undo::undo_roster_import)
        .service(v1::roster_imports::confirm::confirm_roster_import)
        .service(v1::classes::list::list_classes)
        .service(v1::classes::create::create_class)
        .service(v1::classes::get::get_class)
        .service(v1::classes::set_adults::set_class_adults)
        .service(v1::attainment::class::get_class_attainment)
        .service(v1::rollovers::get::get_rollover)
        .service(v1::rollovers::save::save_rollover)
        .service(v1::rollovers::apply::apply_rollover)
        .service(v1::rollovers::undo::undo_rollover)
        .service(v1::pupil_decisions::suspects::list_suspected_duplicates)
        .service(v1::pupil_decisions::list::list_pupil_decisions)
        .service(v1::pupil_decisions::decide::decide_pupils)
        .service(v1::pupil_decisions::take_back::take_back_pupil_decision)
        .service(v1::pupils::list::list_pupils)
        .service(v1::pupils::create::create_pupil)
        .service(v1::pupils::export::export_pupils)
        .service(v1::pupils::get::get_pupil)
        .service(v1::pupils::update::update_pupil)
        .service(v1::pupils::coverage::get_pupil_coverage)
        .service(v1::pupils::books::list_pupil_books)
        .service(v1::pupils::practice::get_pupil_practice)
        .service(v1::attainment::pupil::get_pupil_attainment)
        .service(v1::attainment::pupil_next::get_pupil_next_items)
        .service(v1::optional_fields::list::list_optional_fields)
        .service(v1::optional_fields::switch_on::switch_on_optional_field)
        .service(v1::optional_fields::switch_off::switch_off_optional_field)
        .service(v1::pupil_fields::get::get_pupil_fields)
        .service(v1::pupil_fields::set::set_pupil_field)
        .service(v1::sequences::list::list_sequences)
        .service(v1::sequences::create::create_sequence)
        .service(v1::sequences::get::get_sequence)
        .service(v1::sequences::get_draft::get_draft)
        .service(v1::sequences::save_draft::save_draft)
        .service(v1::sequences::analysis::analyse_draft)
        .service(v1::sequences::changes::draft::get_draft_changes)
        .service(v1::sequences::impact::get_draft_impact)
        .service(v1::sequences::export_draft::export_draft)
        .service(v1::sequences::import_draft::import_draft)
        .service(v1::sequences::export_version::export_version)
        .service(v1::sequences::publish::publish_version)
        .service(v1::sequences::versions::list_versions)
        .service(v1::sequences::get_version::get_version)
        .service(v1::sequences::changes::version::get_version_changes)
        .service(v1::sequences::withdraw::withdraw_version)
        .service(v1::sequences::withdraw_preview::preview_withdrawal)
        .service(v1::sequences::restore::restore_version)
        .service(v1::sequence_proposals::create::propose_sequence)
        .service(v1::sequence_proposals::list::list_sequence_proposals)
        .service(v1::sequence_proposals::get::get_sequence_proposal)
        .service(v1::sequence_proposals::cancel::cancel_sequence_proposal)
        .service(v1::group_proposals::create::propose_groups)
        .service(v1::group_proposals::list::list_group_proposals)
        .service(v1::group_proposals::get::get_group_proposal)
        .service(v1::group_proposals::compare::compare_group_proposals)
        .service(v1::group_proposals::accept::accept_group_proposal)
        .service(v1::group_proposals::remove::remove_group_proposal)
        .service(v1::groups::list::list_groups)
        .service(v1::groups::create::create_group)
        .service(v1::groups::get::get_group)
        .service(v1::groups::update::update_group)
        .service(v1::groups::close::close_group)
        .service(v1::groups::set_adults::set_group_adults)
        .service(v1::groups::hand_over::hand_over_group)
        .service(v1::groups::set_members::set_group_members)
        .service(v1::groups::set_weekdays::set_member_weekdays)
        .service(v1::groups::set_version::set_group_version)
        .service(v1::groups::timetable::get_group_timetable)
        .service(v1::groups::set_timetable::set_group_timetable)
        .service(v1::groups::remove_timetable_line::remove_group_timetable_line)
        .service(v1::groups::sessions::list_group_sessions)
        .service(v1::groups::next_lesson::get_next_lesson)
        .service(v1::cover_pages::get::get_cover_page)
        .service(v1::cover_pages::open::open_cover_page)
        .service(v1::cover_links::list::list_cover_links)
        .service(v1::cover_links::create::create_cover_link)
        .service(v1::cover_links::revoke::revoke_cover_link)
        .service(v1::groups::coverage::get_group_coverage)
        .service(v1::groups::word_bank::get_word_bank)
        .service(v1::attainment::group::get_group_attainment)
        .service(v1::attainment::group_next::get_group_next_items)
        .service(v1::attainment::retention::get_group_retention)
        .service(v1::attainment::re_check::get_group_re_check)
        .service(v1::pace::get::get_group_pace)
        .service(v1::pace::proposals::propose_group_pace)
        .service(v1::pace::get_plan::get_pace_plan)
        .service(v1::pace::save_plan::save_pace_plan)
        .service(v1::pace::remove_plan::remove_pace_plan)
        .service(v1::carried_in::get::get_carried_in)
        .service(v1::carried_in::save::save_carried_in)
        .service(v1::carried_in::remove::remove_carried_in)
        .service(v1::carried_in::answers::list_carried_answers)
        .service(v1::carried_in::save_answers::save_carried_answers)
        .service(v1::carried_in::import::import_carried_answers)
        .service(v1::lessons::record::record_lesson)
        .service(v1::lessons::list::list_lesson_records)
        .service(v1::lessons::get::get_lesson_record)
        .service(v1::lessons::history::get_lesson_record_history)
        .service(v1::lessons::amend::amend_lesson_record)
        .service(v1::lessons::delete::delete_lesson_record)
        .service(v1::catch_ups::open::get_catch_up_list)
        .service(v1::catch_ups::record::record_catch_up)
        .service(v1::catch_ups::record_set::record_catch_up_set)
        .service(v1::catch_ups::list::list_catch_up_records)
        .service(v1::catch_ups::get::get_catch_up_record)
        .service(v1::catch_ups::history::get_catch_up_record_history)
        .service(v1::catch_ups::delete::delete_catch_up_record)
        .service(v1::catch_ups::plan::plan_catch_up)
        .service(v1::checks::list::list_checks)
        .service(v1::checks::create::create_check)
        .service(v1::checks::propose::propose_check)
        .service(v1::checks::get::get_check)
        .service(v1::checks::forms::compare_check_forms)
        .service(v1::checks::sheet::get_check_sheet)
        .service(v1::checks::rounds::list_check_rounds)
        .service(v1::checks::create_round::create_check_round)
        .service(v1::checks::get_round::get_check_round)
        .service(v1::checks::update_round::update_check_round)
        .service(v1::checks::list_round::get_round_list)
        .service(v1::checks::mine::list_my_checks)
        .service(v1::checks::progress::get_round_progress)
        .service(v1::checks::log_sheet::get_log_sheet)
        .service(v1::checks::answer_many::record_sheet)
        .service(v1::checks::answer::record_responses)
        .service(v1::checks::responses::list_responses)
        .service(v1::checks::correct::correct_response)
        .service(v1::exemptions::add::exempt_pupil)
        .service(v1::exemptions::list::list_exemptions)
        .service(v1::exemptions::end::end_exemption)
        .service(v1::sittings::begin::begin_sitting)
        .service(v1::sittings::get::get_sitting)
        .service(v1::sittings::answer::answer_sitting)
        .service(v1::sittings::undo::undo_sitting_answer)
        .service(v1::sittings::pause::pause_sitting)
        .service(v1::sittings::resume::resume_sitting)
        .service(v1::sittings::finish::finish_sitting)
        .service(v1::second_marking::ask::ask_second_marking)
        .service(v1::second_marking::list::list_second_markings)
        .service(v1::second_marking::give::give_second_marks)
        .service(v1::second_marking::get_marks::get_second_marks)
        .service(v1::second_marking::agreement::get_agreement)
        .service(v1::confusions::pupil::get_pupil_confusions)
        .service(v1::confusions::group::get_group_confusions)
        .service(v1::confusions::class::get_class_confusions)
        .service(v1::answering::get::get_pupil_answering)
        .service(v1::answering::set_speech::set_speech_note)
        .service(v1::answering::set_mode::set_usual_mode)
        .service(v1::answering::add_not_accessible::add_not_accessible)
        .service(v1::answering::end_not_accessible::end_not_accessible)
        .service(v1::answering::reviews::list_not_accessible_reviews)
        .service(v1::placements::create::begin_placement)
        .service(v1::placements::list::list_placements)
        .service(v1::placements::get::get_placement)
        .service(v1::placements::answer::answer_placement)
        .service(v1::placements::end::end_placement)
        .service(v1::statutory::list_windows::list_statutory_windows)
        .service(v1::statutory::open_window::open_statutory_window)
        .service(v1::statutory::get_window::get_statutory_window)
        .service(v1::statutory::remove_window::remove_statutory_window)
        .service(v1::statutory::enter::enter_statutory_results)
        .service(v1::statutory::take_back::take_back_statutory_result)
        .service(v1::statutory::amend::amend_statutory_result)
        .service(v1::statutory::history::get_statutory_result_history)
        .service(v1::statutory::submit::submit_statutory_window)
        .service(v1::statutory::outcomes::list_statutory_outcomes)
        .service(v1::statutory::summary::get_statutory_summary)
        .service(v1::statutory::near_threshold::get_statutory_near_threshold)
        .service(v1::statutory::export::export_statutory_results)
        .service(v1::statutory::letters::get_statutory_letters)
        .service(v1::statutory::thresholds::list_statutory_thresholds)
        .service(v1::statutory::enter_threshold::enter_statutory_threshold)
        .service(v1::statutory::list_earlier::list_earlier_statutory_results)
        .service(v1::statutory::add_earlier::add_earlier_statutory_result)
        .service(v1::statutory::remove_earlier::remove_earlier_statutory_result)
        .service(v1::overview::get::get_weekly_overview)
        .service(v1::reports::attainment::get_attainment_report)
        .service(v1::books::list::list_books)
        .service(v1::books::add::add_book)
        .service(v1::books::import::import_books)
        .service(v1::books::get::get_book)
        .service(v1::books::save::save_book)
        .service(v1::books::remove::remove_book)
        .service(v1::books::match_book::match_book)
        .service(v1::words::get::get_word)
        .service(v1::words::segment::segment_words)
        .service(v1::words::text::analyse_text)
        .service(v1::words::pseudo::make_pseudo_words)
        .service(v1::phonics_policy::get::get_phonics_policy)
        .service(v1::phonics_policy::save::save_phonics_policy)
        .service(v1::school_words::list::list_school_words)
        .service(v1::school_words::add::add_school_word)
        .service(v1::school_words::update::update_school_word)
        .service(v1::school_words::remove::remove_school_word)
        .service(v1::struck_words::list::list_struck_words)
        .service(v1::struck_words::add::strike_word)
        .service(v1::struck_words::remove::remove_struck_word)
        .service(v1::pseudo_word_sets::list::list_pseudo_word_sets)
        .service(v1::pseudo_word_sets::add::add_pseudo_word_set)
        .service(v1::pseudo_word_sets::get::get_pseudo_word_set)
        .service(v1::pseudo_word_sets::approve::approve_pseudo_word_set)
        .service(v1::pseudo_word_sets::remove::remove_pseudo_word_set)
        .service(v1::log::list::list_audit_entries);
}

/// The OpenAPI document of this build.
pub fn openapi() -> utoipa::openapi::OpenApi {
    let (_, document) = App::new()
        .into_utoipa_app()
        .openapi(docs::description())
        .service(utoipa_actix_web::scope("/api/v1").configure(routes))
        .split_for_parts();
    docs::finish(document)
}

/// Headers of every answer.
const EVERYWHERE: [(&str, &str); 4] = [
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("X-Frame-Options", "DENY"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
];

/// Serves on a listener until stopped.
///
/// # Errors
/// If the listener cannot be used.
pub fn serve(api: web::Data<Api>, listener: std::net::TcpListener) -> std::io::Result<Server> {
    api.proposer.stop_when_told();
    housekeeping::daily(api.store.clone());
    let workers = api.config.workers;
    let described = openapi();
    let addresses = web::Data::new(methods::Addresses::new(&described));
    let document = web::Data::new(docs::Document::new(&described));
    let server = HttpServer::new(move || {
        let headers = EVERYWHERE.iter().fold(DefaultHeaders::new(), |headers, header| headers.add(*header));
        let (app, _) = App::new()
            .into_utoipa_app()
            .openapi(docs::description())
            .service(utoipa_actix_web::scope("/api/v1").configure(routes))
            .split_for_parts();
        app.app_data(api.clone())
            .app_data(document.clone())
            .app_data(addresses.clone())
            .app_data(web::PathConfig::default().error_handler(|_, _| Problem::new(Code::NotFound).into()))
            .configure(health::routes)
            .configure(docs::routes)
            .configure(sheets::routes)
            .default_service(web::to(methods::otherwise))
            .wrap(from_fn(log::requests))
            .wrap(headers)
            .wrap(Compress::default())
    });
    Ok(server
        .workers(workers)
        // A handler waits for the store on a thread of this pool, at most this many a worker.
        .worker_max_blocking_threads(32)
        .client_request_timeout(std::time::Duration::from_secs(10))
        .shutdown_timeout(20)
        .listen(listener)?
        .run())
}
