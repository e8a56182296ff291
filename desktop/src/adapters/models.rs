//! Lists that the window shows, changed row by row, so that a list keeps its place and the focus stays where it was.

use std::rc::Rc;

use slint::{Model, ModelRc, VecModel};

/// A list.
pub(super) struct Rows<T: 'static>(Rc<VecModel<T>>);

impl<T: Clone + PartialEq + 'static> Default for Rows<T> {
    fn default() -> Rows<T> {
        Rows(Rc::new(VecModel::default()))
    }
}

impl<T: Clone + PartialEq + 'static> Rows<T> {
    /// The list, for a property.
    pub(super) fn model(&self) -> ModelRc<T> {
        ModelRc::from(self.0.clone())
    }

    /// Makes it these rows; rows that are the same are not touched.
    pub(super) fn set(&self, rows: impl IntoIterator<Item = T>) {
        let mut count = 0;
        for row in rows {
            match self.0.row_data(count) {
                Some(before) if before == row => {}
                Some(_) => self.0.set_row_data(count, row),
                None => self.0.push(row),
            }
            count += 1;
        }
        while self.0.row_count() > count {
            self.0.remove(self.0.row_count() - 1);
        }
    }
}

/// A list that is shown as it is.
pub(super) fn list<T: Clone + 'static>(items: impl Iterator<Item = T>) -> ModelRc<T> {
    ModelRc::new(items.collect::<VecModel<T>>())
}
