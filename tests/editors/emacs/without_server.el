;;; without_server.el --- What a user sees who has not installed the server  -*- lexical-binding: t; -*-

(package-initialize)

(defun visit ()
  (find-file (concat root "/examples/methylenation.prep"))
  (wait-for "the end of a command" (lambda () t)))

(defun messages ()
  (with-current-buffer (messages-buffer) (buffer-string)))

(test "a missing server is said once, with what to do"
  (visit)
  (with-current-buffer "*Warnings*"
    (dolist (part '("there is no program" "cargo install --path server/meniscus" "meniscus-server" "M-x eglot"))
      (includes (buffer-string) part)))
  (let ((warned (with-current-buffer "*Warnings*" (buffer-string))))
    (revert-buffer t t)
    (visit)
    (should (equal warned (with-current-buffer "*Warnings*" (buffer-string))))))

(test "a plan without the server still has its colours"
  (visit)
  (font-lock-ensure)
  (goto-char (point-min))
  (should (eq (get-text-property (point) 'face) 'font-lock-keyword-face)))

(dolist (command '(meniscus-rescale meniscus-version eglot))
  (test (format "M-x %s says that the server is missing" command)
    (visit)
    (should (commandp command))
    (let ((failure (should-error (call-interactively command))))
      (includes (error-message-string failure) "cargo install --path server/meniscus"))))

(test "meniscus-server is taken at its word"
  (visit)
  (let ((meniscus-server "/nowhere/meniscus"))
    (includes (error-message-string (should-error (call-interactively #'meniscus-version) :type 'user-error))
              "/nowhere/meniscus")))

(test "a server where cargo installs programs is found"
  (let* ((cargo (make-temp-file "cargo" t))
         (process-environment (cons (concat "CARGO_HOME=" cargo) process-environment))
         (program (concat cargo "/bin/meniscus")))
    (make-directory (concat cargo "/bin"))
    (make-symbolic-link (getenv "MENISCUS") program)
    (call-interactively #'meniscus-version)
    (includes (messages) program)))
