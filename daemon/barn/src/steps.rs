//! The steps of each job, where the barn has written none of its own. Common practice of the trade, written for this project in
//! plain words of at most [`LONGEST`] characters; the barn's own steps, its equine professional and its vet go before them.

use crate::board::Job;
use crate::book::{Book, JobStep};
use crate::language::Text;

/// So many characters fit on a small screen at arm's length.
pub const LONGEST: usize = 64;

/// The jobs, in their order.
pub const JOBS: [Job; 4] = [Job::Brush, Job::Tack, Job::LeadOut, Job::PutAway];

/// True: it keeps horse or person from harm.
const MIND: bool = true;
const DO: bool = false;

/// Job, whether it keeps from harm, English, Spanish. Common practice of the trade, all of it.
const STEPS: &[(Job, bool, &str, &str)] = &[
    (
        Job::Brush,
        MIND,
        "Speak before you approach, come to the shoulder",
        "Háblele antes de acercarse, llegue al hombro",
    ),
    (
        Job::Brush,
        MIND,
        "Halter on; tie with a quick-release knot",
        "Ponga el cabestro; amarre con nudo de soltar rápido",
    ),
    (Job::Brush, MIND, "Stay at the shoulder; never stand behind", "Quédese junto al hombro; nunca se pare atrás"),
    (Job::Brush, DO, "Curry in circles; not on legs and face", "Pase la rasqueta en círculos; no en patas ni cara"),
    (
        Job::Brush,
        DO,
        "Brush with the hair; face with the soft brush",
        "Cepille a favor del pelo; la cara con cepillo suave",
    ),
    (Job::Brush, MIND, "Pick the feet, heel to toe; never kneel", "Limpie los cascos, de talón a punta; no se hinque"),
    (
        Job::Brush,
        MIND,
        "Look for heat, rubs, wounds; check the girth area",
        "Busque calor, rozaduras, heridas; mire la cinchera",
    ),
    (Job::Brush, MIND, "Anything odd? Stop and tell staff", "¿Algo raro? Pare y avise al personal"),
    (Job::Tack, MIND, "Girth clean, dry and whole? If not, tell staff", "¿Cincha limpia, seca y sana? Si no, avise"),
    (Job::Tack, DO, "Pads smooth, hair flat under them", "Sudaderos lisos, sin arrugas, pelo acostado"),
    (
        Job::Tack,
        DO,
        "Saddle on softly, slide it back into place",
        "Ponga la montura con suavidad, deslícela a su lugar",
    ),
    (Job::Tack, MIND, "Girth loosely first, then tighter in stages", "Cincha floja primero; apriete poco a poco"),
    (
        Job::Tack,
        DO,
        "Bridle, or reins on the halter, as on the card",
        "Brida, o riendas al cabestro, como dice la tarjeta",
    ),
    (Job::Tack, DO, "Stirrups as on the card, left and right", "Estribos como dice la tarjeta, izquierdo y derecho"),
    (Job::Tack, MIND, "Check the girth again before mounting", "Revise la cincha otra vez antes de montar"),
    (
        Job::LeadOut,
        MIND,
        "Lead from the left; never wrap the rope on a hand",
        "Guíe por la izquierda; no enrolle la soga en la mano",
    ),
    (Job::LeadOut, MIND, "Stirrups up while you lead", "Estribos arriba mientras lo guía"),
    (
        Job::LeadOut,
        MIND,
        "Door open wide; horse straight, hips clear",
        "Puerta bien abierta; caballo derecho, sin rozar",
    ),
    (
        Job::LeadOut,
        MIND,
        "Horse leader checks the girth before mounting",
        "Quien guía revisa la cincha antes de montar",
    ),
    (Job::PutAway, MIND, "Stirrups up, girth loosened in stages", "Estribos arriba, afloje la cincha poco a poco"),
    (Job::PutAway, MIND, "Halter on before the bridle comes off", "Ponga el cabestro antes de quitar la brida"),
    (Job::PutAway, DO, "Saddle off; all tack to its place", "Quite la montura; todo el equipo a su lugar"),
    (
        Job::PutAway,
        MIND,
        "Scrub the girth, disinfect; leave wet as label says",
        "Talle y desinfecte la cincha; mojada según etiqueta",
    ),
    (
        Job::PutAway,
        MIND,
        "Read the label; spray on a cloth, never the face",
        "Lea la etiqueta; rocíe en un trapo, nunca la cara",
    ),
    (
        Job::PutAway,
        MIND,
        "Brush off; look for rubs and heat; tell staff",
        "Cepille; busque rozaduras y calor; avise al personal",
    ),
    (Job::PutAway, DO, "Offer water", "Ofrezca agua"),
    (
        Job::PutAway,
        MIND,
        "In the stall turn it to the door; halter off",
        "En la caballeriza, de cara a la puerta; quite el cabestro",
    ),
    (Job::PutAway, MIND, "Latch the door and try it", "Eche el pasador a la puerta y pruébelo"),
];

/// The steps of all jobs in their order: of each job the barn's own, or where it has written none these.
pub fn steps(book: &Book) -> impl Iterator<Item = JobStep> {
    JOBS.into_iter().flat_map(|job| {
        let mut own: Vec<JobStep> = book.steps.iter().filter(|step| step.job == job).cloned().collect();
        own.sort_by_key(|step| step.order);
        if own.is_empty() { proposed(job).collect() } else { own }
    })
}

fn proposed(job: Job) -> impl Iterator<Item = JobStep> {
    let steps = STEPS.iter().filter(move |(of, ..)| *of == job);
    steps.zip(1..).map(|((job, caution, english, spanish), order)| JobStep {
        job: *job,
        order,
        text: Text { english: (*english).to_owned(), spanish: (*spanish).to_owned() },
        caution: *caution,
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::language::Language;

    fn all(book: &Book, job: Job) -> Vec<JobStep> {
        steps(book).filter(|step| step.job == job).collect()
    }

    #[test]
    fn every_job_has_steps_in_both_languages_that_fit() {
        let mut texts = BTreeSet::new();
        for job in JOBS {
            let steps = all(&Book::default(), job);
            assert!(steps.len() >= 4 && steps.iter().any(|step| step.caution), "{job:?}: {steps:?}");
            for step in steps {
                for language in [Language::English, Language::Spanish] {
                    let text = step.text.in_language(language);
                    assert!(
                        (5..=LONGEST).contains(&text.chars().count()),
                        "{} characters: {text}",
                        text.chars().count()
                    );
                    assert!(texts.insert(text.to_owned()), "twice: {text}");
                }
            }
        }
    }

    #[test]
    fn what_keeps_from_harm_is_among_them_and_marked() {
        let cautions: String = steps(&Book::default())
            .filter(|step| step.caution)
            .map(|step| step.text.english.to_lowercase() + "\n")
            .collect();
        for words in [
            "speak before you approach",
            "quick-release knot",
            "never stand behind",
            "in stages",
            "again before mounting",
            "disinfect",
            "label",
            "never the face",
            "halter on before the bridle",
            "latch the door",
        ] {
            assert!(cautions.contains(words), "no caution says {words:?}:\n{cautions}");
        }
    }

    #[test]
    fn the_barns_own_steps_go_before_ours_job_by_job_and_in_their_order() {
        let own = |order, text: &str| JobStep {
            job: Job::Tack,
            order,
            text: Text { english: text.to_owned(), spanish: String::new() },
            caution: false,
        };
        let book = Book { steps: vec![own(2, "Then this"), own(1, "First that")], ..Book::default() };
        let told: Vec<String> = all(&book, Job::Tack).into_iter().map(|step| step.text.english).collect();
        assert_eq!(told, ["First that", "Then this"]);
        assert_eq!(all(&book, Job::Brush), all(&Book::default(), Job::Brush));
    }
}
