//! Figures: the steps they start from give readings of the right sort, and so do their limits.

use offshed_core::ident::{ProductId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::Figure;
use offshed_core::units::{Quantity, Reading};

use super::super::draft::{self, FigureDraft};
use super::super::model::{Kind, Need};
use super::Linker;
use super::rules::Asker;

impl Linker<'_> {
    pub(super) fn figure(&self, draft: &FigureDraft, asker: &Asker, subject: &str) -> Kind {
        let inputs: Vec<(StepId, Quantity)> =
            draft.inputs.iter().filter_map(|(input, name)| self.input(asker, input, name)).collect();
        let first = inputs.first().map(|(_, quantity)| *quantity);
        let params = draft.params.iter().filter_map(|(param, text)| {
            let wanted = match param.quantities {
                [only] => Some(*only),
                several => first.filter(|quantity| several.contains(quantity)),
            };
            self.limit(asker, text, param.key, wanted?)
        });
        let params: Vec<Reading> = params.collect();
        let figure = match (draft.figure, &draft.product) {
            (Figure::Dose { .. }, Some(name)) => {
                Figure::Dose { product: ProductId(self.products.byte(name, subject, "product").unwrap_or(0)) }
            }
            (figure, _) => figure,
        };
        let inputs = inputs.into_iter().map(|(step, _)| step).collect();
        Kind::Figure { figure, unit: draft.unit, inputs, limits: draft.limits, params }
    }

    /// A step that gives a reading of the right sort.
    fn input(
        &self,
        asker: &Asker,
        input: &offshed_core::pack::rows::Input,
        name: &super::super::cursor::Text,
    ) -> Option<(StepId, Quantity)> {
        let (step, quantity) = self.value(asker, name, input.key)?;
        if !input.quantities.contains(&quantity) {
            let wanted: Vec<&str> = input.quantities.iter().map(|q| q.name()).collect();
            let what = format!("`{}` reads {}", name.value, quantity.name());
            let cure = format!("name a step that reads {}", wanted.join(" or "));
            self.sink.say(name.at, &asker.subject, input.key, what, cure);
            return None;
        }
        Some((step, quantity))
    }

    /// A step's needs; a figure waits for what it is computed from, whether or not its author says so.
    pub(super) fn step_needs(&self, asker: &Asker, step: &draft::Step) -> Vec<Need> {
        let mut needs = self.needs(asker, &step.needs);
        let draft::Kind::Figure(figure) = &step.kind else { return needs };
        for (_, name) in &figure.inputs {
            // What names no step is reported with the figure itself.
            let known = self.facts.0.iter().find(|(_, fact)| fact.id == name.value).map(|(number, _)| *number);
            let Some(id) = known.map(super::step_id) else { continue };
            let fresh = Rule::Fresh { step: id, within_seconds: None };
            if !needs.iter().any(|need| !need.any && need.rules.first() == Some(&fresh)) {
                let because = Some("the figure is computed from it".to_owned());
                needs.push(Need { rules: vec![fresh], any: false, because, at: name.at });
            }
        }
        needs
    }
}
